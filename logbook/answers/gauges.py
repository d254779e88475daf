"""What opened the breathing system or the gas path of a machine, and when."""

from collections.abc import Iterator, Mapping, Sequence

from logbook.answers.item import Asked
from logbook.projections.lookup import Stay
from logbook.value import Value


class Opened(Value):
    """A time at which a machine was opened: by the absorbent change of an entry, or by a vaporizer
    that was fitted, or taken ``away``. What nobody saw happen is at 0."""

    at_s: int
    entry: int | None
    vaporizer: str | None = None
    away: bool = False


def moved(stays: Mapping[str, Sequence[Stay]], machine: str) -> Iterator[Opened]:
    """Each time at which a vaporizer came onto a machine or went from it."""
    for tag, places in stays.items():
        before = None
        for at_s, place in places:
            if machine in (place, before):
                yield Opened(at_s, None, tag, away=place != machine)
            before = place


def opened_since(asked: Asked, machine: str, tested_s: int | None) -> list[Opened]:
    """When its absorbent, and each vaporizer, last opened a machine since a leak test passed on it,
    or ever where none did: it is to be tested then (AAGBI 2012, read)."""
    changed = asked.known.absorbent.get(machine)
    opened = [Opened(changed.at_s, changed.entry)] if changed else []
    by_now = (one for one in moved(asked.stays, machine) if one.at_s <= asked.moment.at_s)
    opened += {one.vaporizer: one for one in by_now}.values()
    return [one for one in opened if one.at_s > (tested_s or 0)]
