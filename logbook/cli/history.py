"""All that was recorded about a unit."""

from typing import TYPE_CHECKING

import click

from logbook.cli.options import FILLED, as_of_option, json_option

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command()
@click.argument("unit")
@click.option("--since", type=FILLED, metavar="DATE", help="From this day on.")
@click.option("--until", type=FILLED, metavar="DATE", help="Up to this day, and with it.")
@click.option("--all", "every", is_flag=True, help="Every entry, not the last 50 alone.")
@as_of_option
@json_option
@click.pass_obj
def history(
    desk: "Desk", unit: str, since: str | None, until: str | None, every: bool,
    as_of: str | None, as_json: bool,
) -> None:  # fmt: skip
    """The entries about a machine or vaporizer, in the order in which things happened.

    The last 50, unless all are asked for. Entries that were withdrawn or replaced stay, struck
    through.

    \b
    Examples:
      logbook history bay1
      logbook history iso1 --since 2026-01-01 --all --json
    """
    from logbook.answers.equipment import known_unit
    from logbook.answers.history import LAST_SHOWN
    from logbook.answers.history import history as answer
    from logbook.answers.moment import end_of
    from logbook.cli.terminal import show
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.history_text import HistorySheet
    from logbook.times import parse_day

    with desk.reading(long=every) as book:
        moment = desk.moment(book, as_of)
        known_unit(book.connection, unit)
        day = parse_day(since, book.zone, book.now, "--since") if since else None
        since_s = moment.day_began_s(day) if day else 0
        until_s = moment.at_s
        if until:
            last = parse_day(until, book.zone, book.now, "--until")
            until_s = min(until_s, end_of(last, book.zone).at_s)
        most = None if every else LAST_SHOWN
        found = answer(book.connection, unit, since_s, until_s, most)
        mark = checkpoint(book.connection, book.now)
    show(HistorySheet.of(unit, found, moment.zone, mark), as_json=as_json)
