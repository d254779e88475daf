"""The list of what is due."""

from typing import TYPE_CHECKING

import click

from logbook.cli.options import as_of_option, json_option

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command()
@as_of_option
@click.option("--all", "show_all", is_flag=True, help="Show what is not due, too.")
@json_option
@click.pass_obj
def due(desk: "Desk", as_of: str | None, show_all: bool, as_json: bool) -> int:
    """What is due in the coming week, worst first, machine by machine.

    \b
    Examples:
      logbook due
      logbook due --as-of 2026-03-06 --json
    """
    from logbook.answers.due import due as answer
    from logbook.answers.due import needs_attention
    from logbook.cli.terminal import show
    from logbook.errors import EXIT_ATTENTION, EXIT_DONE
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.due_text import DueSheet

    with desk.reading() as book:
        moment = desk.moment(book, as_of)
        items = answer(book.connection, moment)
        mark = checkpoint(book.connection, book.now)
    show(DueSheet.of(moment.day, items, mark, show_all=show_all), as_json=as_json)
    return EXIT_ATTENTION if needs_attention(items) else EXIT_DONE
