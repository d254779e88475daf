"""Taking over a paper log or a spreadsheet."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import PAIR, by_option
from logbook.vocabulary import DATE_ORDERS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path
    from zoneinfo import ZoneInfo

    from logbook.answers.rules import Rulebook
    from logbook.cli.desk import Desk
    from logbook.recording.importing.files import Read
    from logbook.recording.importing.taking_over import TakenOver

MOST_FAULTS = 20
"""How many kinds of faults are told at once; our own choice."""
ROWS_SHOWN = 3
"""How many rows of a fault are named; our own choice."""
UNITS = {
    "weight": ("weight", "mass"),
    "flow": ("flow",),
    "pressure": ("gauge", "cylinder", "pipeline"),
    "volume": ("added", "level"),
    "time": ("ran",),
}
"""The columns of bare numbers for which an option gives the unit."""


@click.group("import")
def import_() -> None:
    """Take over a paper log or a spreadsheet.

    The file is CSV text with a header row, as a spreadsheet saves it; its columns may stand in any
    order, and an empty cell means that nothing is known. What stands between the cells, a comma
    before decimals and the order of dates are found, or asked for. All rows are saved, or none. A
    file can be imported again: rows recorded before are recognised.

    \b
    Examples:
      logbook import cases paper-log.csv --dry-run --by KO
      logbook import cases log.csv --map began=date+start --weight-unit lb --by KO
    """


def _file(command: Any) -> Any:
    """The file and the options of every import."""
    units = [
        click.option(f"--{name}-unit", metavar="UNIT", help=f"The unit of a bare {name}: {like}.")
        for name, like in (
            ("time", "min"), ("volume", "mL"), ("pressure", "psi"), ("flow", "L/min"),
            ("weight", "lb"),
        )
    ]  # fmt: skip
    for option in (
        by_option,
        click.option("--dry-run", is_flag=True, help="Try every row, and save nothing."),
        click.option(
            "--mapping", type=click.Path(dir_okay=False), metavar="FILE",
            help="Keep what was told of the columns in a file, or read it there.",
        ),
        click.option("--date-order", type=click.Choice(DATE_ORDERS), help="How dates are written."),
        *units,
        click.option(
            "--every", type=PAIR, multiple=True, metavar="machine=bay1",
            help="The same in every row, where the file has no column for it.",
        ),
        click.option(
            "--map", "columns", type=PAIR, multiple=True, metavar="began=date+start",
            help="Which columns of the file make one of ours; several are joined.",
        ),
        click.argument("path", metavar="FILE", type=click.Path(exists=True, dir_okay=False)),
    ):  # fmt: skip
        command = option(command)
    return command


KINDS = {
    "cases": (
        "Import cases.",
        "Columns: machine, began, ended or ran, circuit (adult, pediatric, non-rebreathing, "
        "unknown), weight, species, vaporizer, flow, dial, reference, by.",
        "paper-log.csv",
        "log.csv --map began=date+start --weight-unit lb --dry-run",
    ),
    "changes": (
        "Import changes of absorbent, charcoal and cylinders.",
        "Columns: machine, at, what (absorbent, charcoal, cylinder), mass, lot, expiry, old, size, "
        "gauge, reason, by. A day alone counts from its beginning.",
        "changes.csv",
        "limebook.csv --every what=absorbent --dry-run",
    ),
    "services": (
        "Import services that were done.",
        "Columns: unit, item, at, outcome (passed, failed, not verified), done_by, certificate, "
        "by. A day alone counts from its beginning.",
        "service-folder.csv",
        "service-folder.csv --dry-run",
    ),
    "checks": (
        "Import checks done on paper: passed or failed.",
        "Columns: machine, at, result (passed, failed), list (daily unless told), reason, by. "
        "Nothing is known of their items, so that they are no leak test.",
        "check-sheets.csv",
        "bay1.csv --every machine=bay1 --dry-run",
    ),
    "fills": (
        "Import fills of vaporizers.",
        "Columns: vaporizer, at, added, level (at least one of the two), lot, by.",
        "fills.csv",
        "fills.csv --volume-unit mL --dry-run",
    ),
    "levels": (
        "Import levels that were read at the sight glass.",
        "Columns: vaporizer, at, level, by.",
        "levels.csv",
        "levels.csv --volume-unit mL --dry-run",
    ),
    "oxygen": (
        "Import readings of oxygen gauges.",
        "Columns: machine, at, cylinder, pipeline (at least one of the two), by.",
        "gauges.csv",
        "gauges.csv --pressure-unit psi --dry-run",
    ),
    "faults": (
        "Import faults and incidents.",
        "Columns: unit, at, what (tipped, dropped, overfilled, leak, stuck, damaged, incident, "
        "other), detail, out (yes, no), by. Without out, a unit tipped, dropped or overfilled is "
        "out of service until it is put back.",
        "faults.csv",
        "faults.csv --every what=other --dry-run",
    ),
    "returns": (
        "Import returns to service.",
        "Columns: unit, at, certificate, remark, by. Each stands on the first passed check or "
        "service after the unit's last fault, or on the service of that certificate: import "
        "faults, services and checks first.",
        "returns.csv",
        "returns.csv --dry-run",
    ),
    "fittings": (
        "Import where vaporizers stood.",
        "Columns: vaporizer, at, machine (empty: it was taken off), reason, by.",
        "moves.csv",
        "moves.csv --dry-run",
    ),
}
"""What each kind of file holds, and two files by which its help shows how it is called."""


def _command(kind: str) -> click.Command:
    """The command that takes over files of one kind."""
    what, columns, *files = KINDS[kind]
    examples = "\n".join(f"  logbook import {kind} {file} --by KO" for file in files)

    @click.pass_obj
    def take(desk: "Desk", /, **told: Any) -> int:
        return _take_over(desk, kind, **told)

    described = f"{what}\n\n{columns}\n\n\b\nExamples:\n{examples}"
    return click.command(kind, help=described)(_file(take))


for _kind in KINDS:
    import_.add_command(_command(_kind))


def _take_over(
    desk: "Desk", kind: str, *, path: str, by: str | None, dry_run: bool, **told: Any
) -> int:
    from dataclasses import replace
    from pathlib import Path

    from logbook.answers.register import Register
    from logbook.cli.mapping import date_order_of, keep_mapping, told_of
    from logbook.cli.terminal import wrapped
    from logbook.errors import EXIT_DONE, EXIT_USAGE
    from logbook.recording.importing.files import laid_on, read_table
    from logbook.recording.importing.sheets import SHEETS
    from logbook.recording.importing.taking_over import take_over

    sheet, file = SHEETS[kind], Path(path)
    table = read_table(file)
    of_file, asked = told_of(table, sheet, **told)
    read = laid_on(table, list(sheet.columns), sheet.needed, of_file)
    order, guessed = date_order_of(desk, read, of_file, file.name)
    read, of_file = replace(read, date_order=order), replace(of_file, date_order=order)
    with desk.writing() as book, _watched(read.rows) as rows:
        rules = Register(book.connection, book.clinic).rules_at(int(book.now.timestamp()))
        done = take_over(book, sheet, read, rows, by=by, now=book.now, dry_run=dry_run)
    kept = keep_mapping(told["mapping"], file, of_file, asked=asked)
    if done.refused:
        _tell_refused(done, file)
        return EXIT_USAGE
    long = _long_cases(done, rules, book.zone)
    for line in [*_saved_lines(done, file, dry_run), *long, *_how_read(read), *guessed]:
        click.echo(wrapped(line))
    for line in kept:  # A path that is broken into lines cannot be copied.
        click.echo(line)
    return EXIT_DONE


def _watched(rows: list[Any]) -> Any:
    """The rows, with a bar that fills where somebody looks on."""
    import sys
    from contextlib import nullcontext

    if not sys.stderr.isatty():
        return nullcontext(rows)
    return click.progressbar(rows, label="rows", file=sys.stderr)


def _tell_refused(done: "TakenOver", path: "Path") -> None:
    """The faults of all rows, like ones together, the most frequent first."""
    from logbook.cli.refusal import in_shell

    rows = len({row.number for row in done.refused})
    faults = done.faults()
    some = f", the first {MOST_FAULTS} of {len(faults)}" if len(faults) > MOST_FAULTS else ""
    click.echo(
        f"Not done, nothing saved: {rows} {'row' if rows == 1 else 'rows'} of {path.name} "
        f"{'is' if rows == 1 else 'are'} refused, for {_many(len(faults), 'reason')}{some}:",
        err=True,
    )
    for fault in faults[:MOST_FAULTS]:
        click.echo(f"{_rows(fault.rows)}: {in_shell(fault.error)}.", err=True)
    if any("needs its unit" in str(fault.error) for fault in faults):
        told = ", ".join(f"--{name}-unit" for name in UNITS)
        click.echo(f"Where a column has one unit throughout, tell it with {told}.", err=True)
    if any("read in two ways" in str(fault.error) for fault in faults):
        click.echo("How dates are written is told with --date-order.", err=True)


def _rows(numbers: "Sequence[int]") -> str:
    """Which rows, the first ones by their number: ``row 4``, ``12 rows (4, 5, 9, …)``."""
    if len(numbers) == 1:
        return f"row {numbers[0]}"
    more = ", …" if len(numbers) > ROWS_SHOWN else ""
    return f"{len(numbers)} rows ({', '.join(map(str, numbers[:ROWS_SHOWN]))}{more})"


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _how_read(read: "Read") -> list[str]:
    """How the file was read, where it could have been read otherwise."""
    from logbook.recording.importing.files import SEPARATORS

    ways = [
        f"letters of {read.letters}" if read.letters else "",
        f"{SEPARATORS[read.separator]} between the cells" if read.separator != "," else "",
        "a comma before decimals" if read.comma else "",
        f"dates as {read.date_order}" if read.date_order else "",
        *(f"a bare {name} in {unit}" for name, unit in sorted(read.units.items())),
    ]
    told = ", ".join(way for way in ways if way)
    lines = [f"Read with {told}."] if told else []
    if read.left_out:
        lines.append(f"Not taken over: {', '.join(read.left_out)}.")
    return lines


def _saved_lines(done: "TakenOver", path: "Path", dry_run: bool) -> list[str]:
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
        lines.append(f"{_many(done.again, 'row')} of it stood here already.")
    return lines


def _long_cases(done: "TakenOver", rules: "Rulebook", zone: "ZoneInfo") -> list[str]:
    """Cases so long that their end may have been forgotten on paper, the first ones by name."""
    from logbook.answers.long_cases import LONG_CASE, is_long
    from logbook.entries.case import Case
    from logbook.times import duration_text, local_text

    found = []
    for one in done.new:
        if isinstance(one.body, Case):
            machine, ran = one.body.machine, one.body.ended_at - one.happened_at
            ran_s = int(ran.total_seconds())
            if is_long(ran_s, rules.for_machine(machine)[LONG_CASE], None):
                began = local_text(one.happened_at, zone)
                found.append(f"{machine} {began}, {duration_text(ran_s)}")
    if not found:
        return []
    told = "; ".join([*found[:ROWS_SHOWN], *["and more"][: len(found) > ROWS_SHOWN]])
    return [f"{_many(len(found), 'case')} so long that an end may be forgotten: {told}."]


def _counted(entries: list[Any]) -> str:
    return f"{len(entries)} {'entry' if len(entries) == 1 else 'entries'}"
