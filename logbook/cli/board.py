"""All machines on one screen."""

from typing import TYPE_CHECKING

import click

from logbook.cli.asking import answered, known_on_option
from logbook.cli.options import as_of_option, json_option

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.sheet import Sheet


@click.command()
@as_of_option
@known_on_option
@json_option
@click.pass_obj
def board(
    desk: "Desk", as_of: str | None = None, known_on: str | None = None, as_json: bool = False
) -> int:
    """All machines: may each be used, why not, and what is left.

    \b
    Examples:
      logbook board
      logbook board --json
    """
    from logbook.answers.board import board as answer
    from logbook.proof.receipt import kept
    from logbook.sheets.board_text import Acknowledged, BoardSheet

    def ask(book: "Opened", moment: "Moment") -> "tuple[Sheet, bool]":
        lines = answer(book.connection, moment)
        attention = not all(line.may_be_used for line in lines)
        last = kept(desk.path) if known_on is None else None
        held = last.receipt if last else None
        told = Acknowledged.of(held.entries, held.at, book.zone) if held else None
        return BoardSheet.of(moment.day, lines, told), attention

    return answered(desk, ask, as_of=as_of, known_on=known_on, as_json=as_json)
