"""All that was recorded about a unit."""

from typing import TYPE_CHECKING

import click

from logbook.cli.asking import answered, known_on_option
from logbook.cli.options import FILLED, TAG, UNIT, as_of_option, json_option

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.sheet import Sheet


@click.command()
@click.argument("unit", type=TAG, metavar=f"[{UNIT}]", required=False)
@click.option("--since", type=FILLED, metavar="DATE", help="From this day on.")
@click.option("--until", type=FILLED, metavar="DATE", help="Up to this day, and with it.")
@click.option("--all", "every", is_flag=True, help="Every entry, not the last 50 alone.")
@click.option("--corrections", is_flag=True, help="Only what was corrected, of all units.")
@as_of_option
@known_on_option
@json_option
@click.pass_obj
def history(
    desk: "Desk", unit: str | None, since: str | None, until: str | None, every: bool,
    corrections: bool, as_of: str | None, known_on: str | None, as_json: bool,
) -> int:  # fmt: skip
    """The entries about a machine or vaporizer, in the order in which things happened.

    The last 50, unless all are asked for. Entries that were withdrawn or replaced stay, struck
    through. With --corrections UNIT may be left out.

    \b
    Examples:
      logbook history bay1
      logbook history iso1 --since 2026-01-01 --all --json
      logbook history --corrections
    """
    from dataclasses import replace

    from logbook.answers.equipment import known_unit
    from logbook.answers.history import LAST_SHOWN
    from logbook.answers.history import corrections as corrected
    from logbook.answers.history import history as answer
    from logbook.answers.moment import end_of
    from logbook.answers.over_time import over_time
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.history_text import HistorySheet
    from logbook.sheets.over_time import courses

    if unit is None and not corrections:
        raise click.UsageError("name a machine or vaporizer: logbook history bay1")

    def ask(book: "Opened", moment: "Moment") -> "tuple[Sheet, bool]":
        if unit is not None:
            known_unit(book.connection, unit)
        day = book.day(since, "--since") if since else None
        since_s = moment.day_began_s(day) if day else 0
        until_s = moment.at_s
        if until:
            last = book.day(until, "--until")
            until_s = min(until_s, end_of(last, book.zone).at_s)
        if unit is None or corrections:
            found = corrected(book.connection, since_s, until_s, unit)
        else:
            most = None if every else LAST_SHOWN
            found = answer(book.connection, unit, since_s, until_s, most)
        mark = checkpoint(book.connection, book.now)
        if unit is None or corrections:
            sheet = HistorySheet.of_corrections(unit or "all units", found, moment.zone, mark)
        else:
            sheet = HistorySheet.of(unit, found, moment.zone, mark)
        if unit is not None and not (corrections or since or until or as_json):
            seen = courses(over_time(book.connection, moment, unit), moment.zone)
            sheet = replace(sheet, courses=seen)
        return sheet, False

    return answered(desk, ask, as_of=as_of, known_on=known_on, as_json=as_json, long=every)
