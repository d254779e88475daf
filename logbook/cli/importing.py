"""Taking over a paper log or a spreadsheet."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import by_option

if TYPE_CHECKING:
    from pathlib import Path

    from logbook.cli.desk import Desk
    from logbook.recording.importing import RefusedRow


@click.group("import")
def import_() -> None:
    """Take over a paper log or a spreadsheet.

    The file is CSV text in UTF-8 with a header row; its columns may stand in any order, and an
    empty cell means that nothing is known. All rows are saved, or none. A file can be imported
    again: rows recorded before are recognised.

    \b
    Examples:
      logbook import cases paper-log.csv --dry-run --by KO
      logbook import services services.csv --by KO
    """


def _file(command: Any) -> Any:
    """The file and the two options of every import."""
    for option in (
        by_option,
        click.option("--dry-run", is_flag=True, help="Try every row, and save nothing."),
        click.argument("path", metavar="FILE", type=click.Path(exists=True, dir_okay=False)),
    ):
        command = option(command)
    return command


@import_.command("cases")
@_file
@click.pass_obj
def import_cases(desk: "Desk", path: str, dry_run: bool, by: str | None) -> int:
    """Import cases.

    Columns: machine, began, ended or ran, circuit (adult, pediatric, non-rebreathing, unknown),
    weight, species, vaporizer, flow, dial, reference, by. Weights and flows with their units.

    \b
    Examples:
      logbook import cases paper-log.csv --by KO
      logbook import cases paper-log.csv --dry-run --by KO
    """
    from logbook.recording.importing import CASES

    return _take_over(desk, CASES, path, by, dry_run)


@import_.command("changes")
@_file
@click.pass_obj
def import_changes(desk: "Desk", path: str, dry_run: bool, by: str | None) -> int:
    """Import changes of absorbent, charcoal and cylinders.

    Columns: machine, at, what (absorbent, charcoal, cylinder), mass, lot, expiry, old, size,
    gauge, reason, by. A day alone counts from its beginning.

    \b
    Examples:
      logbook import changes changes.csv --by KO
      logbook import changes changes.csv --dry-run --by KO
    """
    from logbook.recording.importing import CHANGES

    return _take_over(desk, CHANGES, path, by, dry_run)


@import_.command("services")
@_file
@click.pass_obj
def import_services(desk: "Desk", path: str, dry_run: bool, by: str | None) -> int:
    """Import services that were done.

    Columns: unit, item, at, outcome (passed, failed, not verified), done_by, certificate, by.
    A day alone counts from its beginning.

    \b
    Examples:
      logbook import services service-folder.csv --by KO
      logbook import services service-folder.csv --dry-run --by KO
    """
    from logbook.recording.importing import SERVICES

    return _take_over(desk, SERVICES, path, by, dry_run)


def _take_over(desk: "Desk", sheet: Any, name: str, by: str | None, dry_run: bool) -> int:
    from pathlib import Path

    from logbook.errors import EXIT_DONE, EXIT_USAGE
    from logbook.recording.importing import read_rows, take_over

    path = Path(name)
    rows = read_rows(path, sheet)
    with desk.writing() as book, _watched(rows) as watched:
        done = take_over(book, sheet, watched, by=by, now=book.now, dry_run=dry_run)
    if done.refused:
        _tell_refused(done.refused, path)
        return EXIT_USAGE
    for line in _saved_lines(done, path, dry_run):
        click.echo(line)
    return EXIT_DONE


def _watched(rows: list[Any]) -> Any:
    """The rows, with a bar that fills where somebody looks on."""
    import sys
    from contextlib import nullcontext

    if not sys.stderr.isatty():
        return nullcontext(rows)
    return click.progressbar(rows, label="rows", file=sys.stderr)


def _tell_refused(refused: "list[RefusedRow]", path: "Path") -> None:
    from logbook.cli.refusal import in_shell
    from logbook.recording.importing import MOST_REFUSED

    some = "the first rows" if len(refused) == MOST_REFUSED else "rows"
    click.echo(f"Not done, nothing saved: {some} of {path.name} that are refused:", err=True)
    for row in refused:
        click.echo(f"row {row.number}: {in_shell(row.error)}.", err=True)


def _saved_lines(done: Any, path: "Path", dry_run: bool) -> list[str]:
    lines = []
    if not done.new:
        lines.append(f"Nothing is new in {path.name}.")
    elif dry_run:
        lines.append(f"Nothing saved yet. {_counted(done.new)} would be saved from {path.name}.")
    else:
        first, last = done.new[0].seq, done.new[-1].seq
        numbers = f"number {first}" if first == last else f"numbers {first} to {last}"
        lines.append(f"Saved {_counted(done.new)} from {path.name}, {numbers}.")
    if done.again:
        lines.append(f"{done.again} of its rows were recorded already.")
    return lines


def _counted(entries: list[Any]) -> str:
    return f"{len(entries)} {'entry' if len(entries) == 1 else 'entries'}"
