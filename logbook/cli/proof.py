"""Proof: verify, checkpoint, backup, restore."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from logbook.cli.failures import say
from logbook.cli.options import by_option, json_option

if TYPE_CHECKING:
    from logbook.cli.desk import Desk

FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.option("--against", metavar="HEAD|FILE", help="A head, or the file of a checkpoint.")
@click.option("--thorough", is_flag=True, help="Hold each entry against what is refused today.")
@json_option
@click.pass_obj
def verify(desk: "Desk", against: str | None, thorough: bool, as_json: bool) -> int:
    """Check that the ledger is whole and unchanged: file, guards, chain, tables.

    Remarks tell of entries that hold, though no command writes them so. --thorough takes minutes
    on a ledger of years.

    \b
    Examples:
      logbook verify
      logbook verify --against friday.checkpoint
    """
    from logbook.cli.terminal import show
    from logbook.errors import EXIT_DONE, EXIT_UNVERIFIED
    from logbook.proof.checkpoint import read_expected
    from logbook.proof.place import place_warning
    from logbook.proof.verify import verify as answer
    from logbook.recording.opening import require_ledger
    from logbook.sheets.proof import VerifySheet

    require_ledger(desk.path)
    told = answer(desk.path, read_expected(against) if against else None, thorough=thorough)
    show(VerifySheet.of(told), as_json=as_json)
    if warning := place_warning(desk.path):
        say(f"{warning}.", err=True)
    return EXIT_UNVERIFIED if told.findings else EXIT_DONE


@click.command()
@click.option("--to", "target", type=FILE, help="Write it to a new file.")
@json_option
@click.pass_obj
def checkpoint(desk: "Desk", target: Path | None, as_json: bool) -> None:
    """Where the ledger stands: its head on paper or in a file proves later that all before stands.

    \b
    Examples:
      logbook checkpoint
      logbook checkpoint --to friday.checkpoint
    """
    from logbook.cli.terminal import show
    from logbook.cli.writing import write_new
    from logbook.deed import last_step
    from logbook.ledger.file import refuse_side_name
    from logbook.proof.checkpoint import checkpoint as answer
    from logbook.sheets.proof import CheckpointSheet

    if target is not None:
        refuse_side_name(target)
    with desk.reading() as book:
        told = answer(book.connection, book.now)
    if target is not None:
        with last_step():
            write_new(target, told.text().encode())
    if target is None or as_json:
        show(CheckpointSheet(told), as_json=as_json)
    else:
        say(f"Wrote {target}.")


@click.command()
@click.argument("target", metavar="TO", type=FILE)
@click.pass_obj
def backup(desk: "Desk", target: Path) -> None:
    """Copy the ledger to a new file, also while it is in use, and verify the copy.

    \b
    Examples:
      logbook backup /media/stick/clinic-2026-03-06.ledger
      logbook --ledger clinic.ledger backup copy.ledger
    """
    from logbook.proof.backup import backup as answer
    from logbook.recording.opening import require_ledger

    require_ledger(desk.path)
    told = answer(desk.path, target)
    say(f"Saved {target}: {told.entries} entries, verified.")
    click.echo(told.text(), nl=False)


@click.command()
@click.argument("source", metavar="FROM", type=FILE)
@click.option("--go", is_flag=True, help="Do it; without this, only say what would be done.")
@click.option("--because", help="Why; needed with --go.")
@by_option
@click.pass_obj
def restore(desk: "Desk", source: Path, go: bool, because: str | None, by: str | None) -> None:
    """Bring the ledger back from a backup. The present file is moved aside, never deleted.

    \b
    Examples:
      logbook restore /media/stick/clinic-2026-03-06.ledger
      logbook restore clinic-2026-03-06.ledger --go --because "disk failed" --by KO
    """
    from logbook.cli.desk import signature
    from logbook.proof.backup import plan_restore
    from logbook.proof.backup import restore as answer

    if not go:
        plan = plan_restore(desk.path, source, desk.memory())
        say(f"{source} verifies: {plan.source.entries} entries.")
        click.echo(f"Lost by it: {_lost(plan.lost_entries)}. Nothing was changed.")
        click.echo("To do it, add: --go --because WHY")
        return
    if not because:
        raise click.UsageError("a restore needs its reason; give --because")
    plan, saved, aside = answer(
        desk.path, source, desk.memory(), reason=because, by=signature(by), now=desk.now()
    )
    say(f"Restored {desk.path} from {source}, recorded as entry {saved.entry.seq}.")
    click.echo(f"Lost by it: {_lost(plan.lost_entries)}.")
    if aside is not None:
        say(f"The file that stood there is now {aside}.")


def _lost(entries: int | None) -> str:
    return "not known" if entries is None else "1 entry" if entries == 1 else f"{entries} entries"
