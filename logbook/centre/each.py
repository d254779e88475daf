"""Doing something for one site after the other, where one that fails stands in no other's way."""

from collections.abc import Callable, Iterable
from itertools import chain

from logbook.centre.store import Site
from logbook.errors import LogbookError
from logbook.sheets.group import Unread
from logbook.units import printable

LONGEST_WHY = 200
"""In signs; it stands in one line."""


def for_each(sites: Iterable[Site], act: Callable[[Site], None]) -> list[Unread]:
    """Do it for every site; answers those for which it failed, and why."""
    unread = []
    for one in sites:
        try:
            act(one)
        except LogbookError as error:
            unread.append(Unread(one.name, str(error)))
        except Exception as error:  # What one site wrote must not keep the others from being told.
            why = printable(" ".join(f"{type(error).__name__}: {error}".split()))
            unread.append(Unread(one.name, why[:LONGEST_WHY]))
    return unread


def once(*several: list[Unread]) -> list[Unread]:
    """Each site once, with what was met first."""
    found: dict[str, Unread] = {}
    for one in chain(*several):
        found.setdefault(one.site, one)
    return list(found.values())
