"""All machines on one screen."""

from typing import TYPE_CHECKING

import click

from logbook.cli.options import as_of_option, json_option

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command()
@as_of_option
@json_option
@click.pass_obj
def board(desk: "Desk", as_of: str | None = None, as_json: bool = False) -> int:
    """All machines: may each be used, why not, and what is left.

    \b
    Examples:
      logbook board
      logbook board --json
    """
    from logbook.answers.board import board as answer
    from logbook.cli.terminal import show
    from logbook.errors import EXIT_ATTENTION, EXIT_DONE
    from logbook.sheets.board_text import BoardSheet

    with desk.reading() as book:
        moment = desk.moment(book, as_of)
        lines = answer(book.connection, moment)
    show(BoardSheet.of(moment.day, lines), as_json=as_json)
    return EXIT_DONE if all(line.may_be_used for line in lines) else EXIT_ATTENTION
