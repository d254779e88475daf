"""Sheets to print: the week's list, the board, a history, a checklist."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from logbook.cli.forecast import closed_option
from logbook.cli.options import TAG, UNIT, as_of_option

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.paper import Paper

    Make = Callable[[Opened, Moment, Paper], str | Callable[[], str]]

F = TypeVar("F", bound=Callable[..., Any])


def printed(command: F) -> F:
    """The options of every sheet: its form, its paper and its file."""
    form = click.option(
        "--form",
        type=click.Choice(["html", "pdf"]),
        default="html",
        help="A page for a browser (as it stands), or a PDF.",
    )
    paper = click.option(
        "--paper",
        "size",
        type=click.Choice(["a4", "letter"]),
        help="The size; that of the clinic's country unless told.",
    )
    out = click.option(
        "--out",
        "target",
        required=True,
        metavar="FILE",
        type=click.Path(path_type=Path, dir_okay=False),
        help="The new file to write.",
    )
    return form(paper(out(command)))


@click.group()
def sheet() -> None:
    """Sheets to print, with the checkpoint in words and as a code at the foot.

    \b
    Examples:
      logbook sheet week --out week.html
      logbook sheet paper daily --form pdf --out daily.pdf
    """


@sheet.command("week")
@closed_option
@as_of_option
@printed
@click.pass_obj
def sheet_week(
    desk: "Desk", closed: tuple[str, ...], as_of: str | None, form: str, size: str | None,
    target: Path,
) -> None:  # fmt: skip
    """The week's list with boxes for values and initials.

    \b
    Examples:
      logbook sheet week --out week.html
      logbook sheet week --form pdf --paper letter --out week.pdf
    """
    from logbook.cli.listing import week_of
    from logbook.sheets.paper import week_page

    def made(book: "Opened", moment: "Moment", paper: "Paper") -> "Callable[[], str]":
        told, clinic = week_of(book, moment, closed), book.clinic.name
        return lambda: week_page(told(), clinic, paper)

    write_sheet(desk, made, as_of, form, size, target)


@sheet.command("board")
@as_of_option
@printed
@click.pass_obj
def sheet_board(desk: "Desk", as_of: str | None, form: str, size: str | None, target: Path) -> None:
    """All machines as they stand.

    \b
    Examples:
      logbook sheet board --out board.html
      logbook sheet board --as-of 2026-03-06 --form pdf --out board.pdf
    """
    from logbook.answers.board import board
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.board_text import BoardSheet
    from logbook.sheets.paper import lines_page

    def made(book: "Opened", moment: "Moment", paper: "Paper") -> str:
        told = BoardSheet.of(moment.day, board(book.connection, moment))
        mark = checkpoint(book.connection, book.now)
        return lines_page(f"{book.clinic.name}: board", told.lines(), mark, paper)

    write_sheet(desk, made, as_of, form, size, target)


@sheet.command("history")
@click.argument("unit", type=TAG, metavar=UNIT)
@as_of_option
@printed
@click.pass_obj
def sheet_history(
    desk: "Desk", unit: str, as_of: str | None, form: str, size: str | None, target: Path
) -> None:
    """Everything that was recorded about a unit.

    It is a machine or a vaporizer; pictures show what was measured again and again.

    \b
    Examples:
      logbook sheet history bay1 --out bay1.html
      logbook sheet history iso1 --form pdf --out iso1.pdf
    """
    from logbook.answers.equipment import known_unit
    from logbook.answers.history import history
    from logbook.answers.over_time import over_time
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.history_text import HistorySheet
    from logbook.sheets.over_time import courses
    from logbook.sheets.paper import lines_page

    def made(book: "Opened", moment: "Moment", paper: "Paper") -> str:
        known_unit(book.connection, unit)
        mark = checkpoint(book.connection, book.now)
        found = history(book.connection, unit, 0, moment.at_s)
        told = HistorySheet.of(unit, found, moment.zone, mark)
        seen = courses(over_time(book.connection, moment, unit), moment.zone)
        title = f"{book.clinic.name}: history of {unit}"
        return lines_page(title, told.lines(), mark, paper, seen)

    write_sheet(desk, made, as_of, form, size, target, long=True)


@sheet.command("paper")
@click.argument("list_name", metavar="LIST")
@printed
@click.pass_obj
def sheet_paper(desk: "Desk", list_name: str, form: str, size: str | None, target: Path) -> None:
    """A checklist to fill in by hand where there is no screen.

    \b
    Examples:
      logbook sheet paper daily --out daily.html
      logbook sheet paper before-case --form pdf --out before-case.pdf
    """
    from logbook.answers.lists import current_list, list_names
    from logbook.errors import NotKnown
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.paper import list_page
    from logbook.units import shown

    def made(book: "Opened", _: "Moment", paper: "Paper") -> str:
        found = current_list(book.connection, list_name)
        if found is None:
            raise NotKnown("list", shown(list_name), list_names(book.connection))
        mark = checkpoint(book.connection, book.now)
        return list_page(found, book.clinic.name, mark, paper)

    write_sheet(desk, made, None, form, size, target)


def write_sheet(
    desk: "Desk", make: "Make", as_of: str | None, form: str, size: str | None, target: Path, *,
    long: bool = False,
) -> None:  # fmt: skip
    """Make a page of the open ledger, or what makes it without, and write it once it is closed."""
    from logbook.cli.failures import say
    from logbook.cli.writing import write_new
    from logbook.country import paper_of
    from logbook.deed import last_step
    from logbook.ledger.file import refuse_side_name
    from logbook.sheets.pdf import pdf_of

    refuse_side_name(target)
    with desk.reading(long=long) as book:
        paper: Paper = "letter" if (size or paper_of(book.clinic.country)) == "letter" else "A4"
        made = make(book, desk.moment(book, as_of), paper)
    page = made() if callable(made) else made
    content = pdf_of(page) if form == "pdf" else page.encode()
    with last_step():
        write_new(target, content)
    say(f"Wrote {target}.")
