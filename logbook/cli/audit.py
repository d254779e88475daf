"""What the record shows against a span of days."""

from typing import TYPE_CHECKING

import click

from logbook.cli.asking import answered, known_on_option
from logbook.cli.options import FILLED, TAG, json_option

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.sheet import Sheet


@click.command()
@click.option(
    "--from", "first_day", type=FILLED, metavar="DATE", required=True, help="The first day."
)
@click.option(
    "--to", "last_day", type=FILLED, metavar="DATE", help="The last day, and with it; today."
)
@click.option("--machine", type=TAG, help="Only this machine.")
@known_on_option
@json_option
@click.pass_obj
def audit(
    desk: "Desk", first_day: str, last_day: str | None, machine: str | None,
    known_on: str | None, as_json: bool,
) -> int:  # fmt: skip
    """What an inspector asks: missed checks, late changes, what was corrected, worst first.

    It tells what the record shows; of what nobody wrote down it knows nothing.

    \b
    Examples:
      logbook audit --from 2026-02-01 --to 2026-02-28
      logbook audit --from 2026-03-02 --machine bay2 --json
    """
    from logbook.answers.audit import audit as answer
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.audit import AuditSheet

    def ask(book: "Opened", moment: "Moment") -> "tuple[Sheet, bool]":
        days = desk.days(book, moment.day, first_day, last_day)
        found = answer(book.connection, moment, *days, machine)
        mark = checkpoint(book.connection, book.now)
        return AuditSheet.of(found, moment.zone, mark), bool(found.findings)

    return answered(desk, ask, known_on=known_on, as_json=as_json)
