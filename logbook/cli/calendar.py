"""What falls due as a file for calendars."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command("calendar")
@click.argument("target", metavar="FILE", type=click.Path(path_type=Path, dir_okay=False))
@click.pass_obj
def export_calendar(desk: "Desk", target: Path) -> None:
    """What falls due, as days in a calendar.

    Give the same FILE again: what moved gets another day there, and what is due no longer is told
    as cancelled. Calendars that take it over then move or remove it.

    \b
    Examples:
      logbook export calendar due.ics
      logbook --ledger clinic.ledger export calendar /srv/share/machines.ics
    """
    from logbook.answers.dated import dated
    from logbook.cli.failures import say
    from logbook.cli.writing import write_anew, write_new
    from logbook.deed import last_step
    from logbook.errors import InputError
    from logbook.ledger.file import refuse_side_name
    from logbook.ledger.store import last_recorded
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.calendar import calendar, read_calendar

    refuse_side_name(target)
    if target.is_dir():
        raise InputError(f"{target} exists already and is a folder", "name a file in it")
    with desk.reading() as book:
        before = None
        if target.exists():
            try:
                before = read_calendar(target.read_bytes(), book.uuid)
            except InputError as error:
                raise InputError(f"{target} exists already; {error}") from None
        found = dated(book.connection, desk.moment(book, None))
        mark = checkpoint(book.connection, book.now)
        at = last_recorded(book.connection) or book.now
        content = calendar(found, book.clinic.name, mark, at, before=before)
    with last_step():
        (write_new if before is None else write_anew)(target, content)
    say(f"Wrote {target}: {len(found)} days.")
