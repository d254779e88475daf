"""An evidence pack: a folder by which a stranger sees how machines were kept, and can check it."""

import hashlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from logbook.cli.options import FILLED, TAG

if TYPE_CHECKING:
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.package import Write
    from logbook.sheets.paper import Paper

F = TypeVar("F", bound=Callable[..., Any])
SUMS = "SHA256SUMS"


@dataclass(frozen=True, slots=True)
class Pack:
    """A folder that is being filled, and the SHA-256 of each file in it."""

    folder: Path
    sums: dict[str, str] = field(default_factory=dict)

    def put(self, name: str, content: Iterable[bytes]) -> None:
        """Write a file, piece by piece."""
        with self.filling(name) as write:
            for piece in content:
                write(piece)

    @contextmanager
    def filling(self, name: str) -> "Iterator[Write]":
        """What adds a piece to a new file; its SHA-256 is known when all were added."""
        told, place = hashlib.sha256(), self.folder / name
        place.parent.mkdir(exist_ok=True)
        with place.open("xb") as file:

            def write(piece: bytes) -> None:
                told.update(piece)
                file.write(piece)

            yield write
        self.sums[name] = told.hexdigest()


def span_options(command: F) -> F:
    """The options that say of which days and machines evidence is told."""
    first = click.option(
        "--from", "first_day", type=FILLED, metavar="DATE", required=True, help="The first day."
    )
    last = click.option(
        "--to", "last_day", type=FILLED, metavar="DATE", help="The last day, and with it; today."
    )
    machine = click.option("--machine", type=TAG, help="Only this machine.")
    references = click.option("--references", is_flag=True, help="With the references of patients.")
    return first(last(machine(references(command))))


def span_of(
    desk: "Desk", book: "Opened", first_day: str, last_day: str | None
) -> "tuple[date, date]":
    """The days that are told; what is to come cannot be shown."""
    from logbook.errors import InputError

    today = book.now.astimezone(book.zone).date()
    first, last = desk.days(book, today, first_day, last_day)
    if last > today:
        raise InputError(f"--to {last} lies in the future; nothing is known of it")
    return first, last


@click.command("evidence")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@span_options
@click.pass_obj
def export_evidence(
    desk: "Desk", folder: Path, first_day: str, last_day: str | None, machine: str | None,
    references: bool,
) -> None:  # fmt: skip
    """A folder for an inspector, who needs nothing but Python.

    It holds a report, tables, the entries and a program that checks them. The same ledger and days
    give the same bytes each time.

    \b
    Examples:
      logbook export evidence february --from 2026-02-01 --to 2026-02-28
      logbook export evidence bay2 --from 2025-01-01 --machine bay2
    """
    from logbook.cli.failures import say

    with desk.reading(long=True) as book:
        first, last = span_of(desk, book, first_day, last_day)
        with new_folder(folder) as place:
            pack = Pack(place)
            fill(book, pack, first, last, machine, references=references)
    say(f"Wrote {folder}: {len(pack.sums)} files.")
    click.echo(f"SHA-256 of {SUMS}: {pack.sums[SUMS]}")
    click.echo(f"Check it: python3 verify_standalone.py . (in {folder})")


def fill(
    book: "Opened", pack: Pack, first: date, last: date, machine: str | None, *, references: bool
) -> None:
    """Put every file of a pack into its folder.

    A year of a large clinic is a hundred megabytes: its rows are written as they are read.
    """
    from logbook.answers.evidence import evidence, linked
    from logbook.country import paper_of
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.evidence import answer_tables, entry_lines, readme, sums_text
    from logbook.sheets.package import Table, descriptor
    from logbook.sheets.paper import evidence_page

    told = evidence(book.connection, book.now, first, last, machine)
    mark = checkpoint(book.connection, book.now)
    kinds: dict[str, Table] = {}
    rows = linked(book.connection, told.entries)
    with ExitStack() as files:

        def into(path: str) -> "Write":
            return files.enter_context(pack.filling(path))

        answers = answer_tables(told, into, references=references)
        pack.put("entries.jsonl", entry_lines(rows, kinds, into, references=references))
    tables = [*answers, *(kinds[one] for one in sorted(kinds))]
    title = f"Evidence of {book.clinic.name}, {first} to {last}"
    pack.put("datapackage.json", [descriptor("evidence", title, tables, pack.sums)])
    paper: Paper = "letter" if paper_of(book.clinic.country) == "letter" else "A4"
    page = evidence_page(told, book.clinic.name, mark, paper)
    pack.put("report.html", (piece.encode() for piece in page))
    words = readme(told, book.clinic.name, mark, references=references)
    pack.put("README.txt", [words.encode()])
    pack.put("checkpoint.txt", [mark.text(dated=False).encode()])
    stranger = Path(__file__).parents[1] / "verify_standalone.py"
    pack.put(stranger.name, [stranger.read_bytes()])
    pack.put(SUMS, [sums_text(pack.sums)])


@contextmanager
def new_folder(target: Path) -> Iterator[Path]:
    """A folder to be filled, which at the end takes the name of ``target``, whole or not at all.

    Raises:
        InputError: something lies there already.
    """
    import os
    import shutil
    import tempfile

    from logbook.deed import last_step
    from logbook.errors import InputError

    if os.path.lexists(target):
        raise InputError(f"{target} exists already; name a new folder")
    place = Path(tempfile.mkdtemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent))
    try:
        yield place
        with last_step():
            place.rename(target)
    except BaseException:
        shutil.rmtree(place, ignore_errors=True)
        raise
