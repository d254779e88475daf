"""Commands about the book itself."""

from typing import TYPE_CHECKING

import click

from logbook.cli.failures import say
from logbook.cli.serve import PLACE

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from logbook.cli.desk import Desk

DEMO_NAME = "demo.ledger"


@click.command()
@click.pass_obj
def rebuild(desk: "Desk") -> None:
    """Read all tables anew from the entries. The entries themselves are not touched.

    \b
    Examples:
      logbook rebuild
      logbook --ledger copy.ledger rebuild
    """
    from logbook.projections.project import rebuild as read_anew

    with desk.writing() as book:
        count = read_anew(book.connection)
    click.echo(f"All tables are rebuilt from {count} entries.")


@click.command()
@click.argument("folder", required=False, type=click.Path(file_okay=False))
@click.option("--serve", is_flag=True, help="Then show it as a page, signed in already.")
@click.option("--listen", default=PLACE, metavar="HOST:PORT", help=f"Where the page is ({PLACE}).")
@click.pass_obj
def demo(desk: "Desk", folder: str | None, serve: bool, listen: str) -> None:
    """Try it on an invented clinic, in a ledger of its own that can be thrown away.

    The clinic, its people, animals and machines are made up. Your own ledger is not touched.

    \b
    Examples:
      logbook demo
      logbook demo /tmp --serve
    """
    from logbook.cli.terminal import wrapped
    from logbook.deed import it_stands, watched
    from logbook.page.server import address
    from logbook.recording.demo import build_demo
    from logbook.shipped import folder as shipped

    address(listen)  # A place that is none is told before the demo is made.
    path = _demo_path(folder)
    with watched(None):  # Until it is whole it can be stopped, and is taken away again.
        made = build_demo(path, shipped("sample_data"))
    it_stands()
    head = f"An invented clinic, {made.entries} entries, as of the end of {made.day}."
    click.echo(f"{wrapped(head)}\n")
    _show(desk, path, made.day)
    say(f"\nThe demo's ledger is {path}. Try:")
    say(f"  logbook --ledger {path} history bay1")
    say(f"  logbook --ledger {path} due --as-of {made.day} --all")
    if serve:
        _show_page(path, listen)


def _show_page(path: "Path", listen: str) -> None:
    """The demo as a page, on the afternoon of its last day, whose clock goes on from there."""
    import time
    from datetime import UTC, datetime, timedelta

    from logbook.answers.people import people
    from logbook.cli.serve import run_page
    from logbook.ledger.store import last_recorded
    from logbook.office.office import Office
    from logbook.page.signing import Signer
    from logbook.proof.seen import Memory
    from logbook.recording.opening import reading

    with reading(path) as book:
        last = last_recorded(book.connection) or datetime.now(UTC)
        signs = people(book.connection)[0]
    began_s = time.monotonic()

    def clock() -> datetime:
        return last + timedelta(seconds=60 + int(time.monotonic() - began_s))

    office = Office(path, Memory(path.parent / "seen"), clock)
    run_page(office, listen, demo=Signer(signs.initials, "lead"))


def _demo_path(folder: str | None) -> "Path":
    """Where the demo goes; never where a file of that name stands, or one beside it."""
    import tempfile
    from pathlib import Path

    from logbook.errors import InputError

    place = Path(folder or tempfile.mkdtemp(prefix="logbook-demo-"))
    place.mkdir(parents=True, exist_ok=True)
    for found in place.glob(f"{DEMO_NAME}*"):
        raise InputError(f"{found} exists already, and the demo replaces no file; remove it first")
    return place / DEMO_NAME


def _show(desk: "Desk", path: "Path", day: "date") -> None:
    """The board and the week's list of the demo, of which this computer remembers nothing new."""
    from logbook.answers.board import board
    from logbook.answers.due import due
    from logbook.answers.moment import end_of
    from logbook.cli.terminal import laid_out, show
    from logbook.office.office import Office
    from logbook.recording.opening import reading
    from logbook.sheets.board_text import BoardSheet
    from logbook.sheets.due_text import due_lines

    if desk.memory().lay_at(path):  # A demo made anew where one lay is no other ledger's doing.
        Office(path, desk.memory(), desk.now).remember_place()
    with reading(path) as book:
        moment = end_of(day, book.zone)
        show(BoardSheet.of(moment.day, board(book.connection, moment)), as_json=False)
        items = due(book.connection, moment)
    click.echo(f"\n{laid_out(due_lines(items, day, show_all=False))}")
