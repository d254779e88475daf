"""Asking a question of the ledger: as it is known now, or as it was known then beside it."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import click

from logbook.cli.options import FILLED

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.sheet import Sheet

    Told = tuple[Sheet, bool]
    Ask = Callable[[Opened, Moment], Told | Callable[[], Told]]

KNOWN_ON = "--as-known-on"
known_on_option = click.option(
    KNOWN_ON,
    "known_on",
    type=FILLED,
    metavar="DATE",
    help="From what was recorded by the end of a day, or by a time, beside what is known now.",
)


def answered(
    desk: "Desk", ask: "Ask", *, as_of: str | None = None, known_on: str | None = None,
    as_json: bool, long: bool = False, first: "Callable[[], None] | None" = None,
) -> int:  # fmt: skip
    """Ask, show the sheet, and answer the exit code: whether something needs attention.

    What is to be kept of the answer is kept ``first``, so that nothing is shown and then not kept.
    ``ask`` makes the sheet of an open ledger and a moment, and says whether it calls for attention;
    or hands back what does so once the ledger is closed, as nobody who saves should wait for it.
    What was known then decides the exit code where that was asked for.
    """
    from logbook.cli.terminal import show
    from logbook.errors import EXIT_ATTENTION, EXIT_DONE

    # To read a ledger anew takes so long that nobody should wait for it.
    with desk.reading(long=long or known_on is not None) as book:
        if known_on is None:
            told = ask(book, desk.moment(book, as_of))
        else:
            told = _as_known(desk, book, ask, as_of, known_on)
    sheet, attention = _made(told)
    if first is not None:
        first()
    show(sheet, as_json=as_json)
    return EXIT_ATTENTION if attention else EXIT_DONE


def _made(told: "Told | Callable[[], Told]") -> "Told":
    return told() if callable(told) else told


def _as_known(
    desk: "Desk", book: "Opened", ask: "Ask", as_of: str | None, known_on: str
) -> "tuple[Sheet, bool]":
    from logbook.errors import InputError, NotKnown
    from logbook.office.earlier import as_known
    from logbook.sheets.as_known import AsKnownSheet
    from logbook.times import utc_from_epoch_s

    known = desk.moment(book, known_on, KNOWN_ON)
    if known.day > book.now.astimezone(book.zone).date():
        raise click.UsageError(f"{KNOWN_ON} {known_on} lies in the future; nothing is known of it")
    at = min(utc_from_epoch_s(known.at_s), book.now)
    moment = desk.moment(book, as_of) if as_of else known
    with as_known(book, at) as earlier:
        try:
            then, attention = _made(ask(earlier, moment))
        except NotKnown as error:
            raise InputError(f"as known on {known_on}: {error}") from None
    now, _ = _made(ask(book, moment))
    return AsKnownSheet.of(at, book.zone, then, now), attention
