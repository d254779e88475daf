"""Files for other programs."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from logbook.cli.calendar import export_calendar
from logbook.cli.evidence import export_evidence
from logbook.cli.label import export_label
from logbook.cli.options import FILLED, as_of_option

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened

ANSWERS = ("due", "audit")


@click.group()
def export() -> None:
    """Files for other programs.

    \b
    Examples:
      logbook export csv due --out due.csv
      logbook export csv case --out cases.csv
      logbook export calendar due.ics
      logbook export evidence february --from 2026-02-01 --to 2026-02-28
    """


export.add_command(export_calendar)
export.add_command(export_evidence)
export.add_command(export_label)


@export.command("csv")
@click.argument("what")
@click.option("--from", "first_day", type=FILLED, metavar="DATE", help="The first day of an audit.")
@click.option(
    "--to", "last_day", type=FILLED, metavar="DATE", help="Its last day, and with it; today."
)
@click.option("--plain", is_flag=True, help="Cells as they are, for a program that runs none.")
@click.option(
    "--out", "target", required=True, metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False), help="The new file to write.",
)  # fmt: skip
@as_of_option
@click.pass_obj
def export_csv(
    desk: "Desk", what: str, first_day: str | None, last_day: str | None, plain: bool,
    target: Path, as_of: str | None,
) -> None:  # fmt: skip
    """A table: due, audit, or the entries of a kind.

    Entries stand as they were written, with the number of what corrected them.

    Cells that a table program would run as a formula have a quote before them.

    \b
    Examples:
      logbook export csv audit --from 2026-02-01 --to 2026-02-28 --out audit.csv
      logbook export csv absorbent_change --plain --out changes.csv
    """
    from logbook.cli.failures import say
    from logbook.cli.writing import write_new
    from logbook.deed import last_step
    from logbook.entries import KINDS
    from logbook.errors import NotKnown
    from logbook.ledger.file import refuse_side_name
    from logbook.sheets.as_csv import as_csv
    from logbook.units import shown

    if what not in (*ANSWERS, *KINDS):
        raise NotKnown("kind of table", shown(what), [*ANSWERS, *KINDS])
    if (first_day is None) != (what != "audit") or (last_day and first_day is None):
        raise click.UsageError("--from and --to are the days of an audit; it needs --from")
    refuse_side_name(target)
    with desk.reading(long=what not in ANSWERS) as book:
        moment = desk.moment(book, as_of)
        if first_day is not None:
            rows = _audit(book, moment, *desk.days(book, moment.day, first_day, last_day))
        else:
            rows = _due(book, moment) if what == "due" else _entries(book, moment, what)
    with last_step():
        write_new(target, as_csv(rows, plain=plain).encode())
    say(f"Wrote {target}: {len(rows)} rows.")


def _due(book: "Opened", moment: "Moment") -> list[dict[str, Any]]:
    from logbook.answers.due import due
    from logbook.sheets.as_json import plain
    from logbook.sheets.due_text import DueRow

    return [plain(DueRow.of(one)) for one in due(book.connection, moment)]


def _audit(book: "Opened", moment: "Moment", *days: Any) -> list[dict[str, Any]]:
    from logbook.answers.audit import audit
    from logbook.sheets.as_json import plain
    from logbook.sheets.audit import FindingRow

    found = audit(book.connection, moment, *days)
    return [plain(FindingRow.of(one, moment.zone)) for one in found.findings]


def _entries(book: "Opened", moment: "Moment", kind: str) -> list[dict[str, Any]]:
    from logbook.ledger.store import as_entry, rows_of_kind, stored_rows
    from logbook.projections.project import last_corrections
    from logbook.sheets.package import entry_row

    fixed = {seq: by.seq for seq, by in last_corrections(stored_rows(book.connection)).items()}
    return [
        entry_row(
            (row.seq, row.happened_at, row.recorded_at, row.by, fixed.get(row.seq)), one.body
        )
        for row in rows_of_kind(book.connection, kind)
        if (one := as_entry(row)).at_s <= moment.at_s
    ]  # fmt: skip
