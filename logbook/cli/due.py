"""The list of what is due."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import click

from logbook.cli.asking import answered, known_on_option
from logbook.cli.forecast import closed_option
from logbook.cli.options import as_of_option, json_option

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.sheets.sheet import Sheet


@click.command()
@as_of_option
@known_on_option
@click.option("--week", is_flag=True, help="The week's list: up to the end of next week.")
@closed_option
@click.option("--all", "show_all", is_flag=True, help="Show what is not due, too.")
@click.option(
    "--since-last", is_flag=True, help="Only what became worse since this was asked here last."
)
@json_option
@click.pass_obj
def due(
    desk: "Desk", as_of: str | None, known_on: str | None, week: bool, closed: tuple[str, ...],
    show_all: bool, since_last: bool, as_json: bool,
) -> int:  # fmt: skip
    """What is out of service, which faults are open, and what is due in the coming week.

    --since-last is for a job that reminds: it prints what became worse (exit 3), and else nothing.
    What it told is kept for you on this computer.

    \b
    Examples:
      logbook due
      logbook due --week
      logbook due --since-last
      logbook due --as-of 2026-03-06 --json
    """
    if closed and not week:
        raise click.UsageError("--closed counts for the week's list; add --week")
    if since_last:
        if as_of or known_on or week or show_all:
            raise click.UsageError("--since-last asks about now, and takes no option but --json")
        return _since_last(desk, as_json=as_json)
    if week:
        from logbook.cli.listing import week_of

        def listed(book: "Opened", moment: "Moment") -> "Callable[[], tuple[Sheet, bool]]":
            made = week_of(book, moment, closed)

            def told() -> "tuple[Sheet, bool]":
                sheet = made()
                return sheet, sheet.attention

            return told

        return answered(desk, listed, as_of=as_of, known_on=known_on, as_json=as_json)
    from logbook.answers.due import due_and_open
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.due_text import DueSheet

    def ask(book: "Opened", moment: "Moment") -> "tuple[Sheet, bool]":
        answer = due_and_open(book.connection, moment)
        mark = checkpoint(book.connection, book.now)
        return DueSheet.of(answer, mark, show_all=show_all), answer.attention

    return answered(desk, ask, as_of=as_of, known_on=known_on, as_json=as_json)


def _since_last(desk: "Desk", *, as_json: bool) -> int:
    """Tell what became worse, and only then keep that it was told: it is told twice, or once."""
    from logbook.answers.due import due_and_open
    from logbook.answers.worse import Told, worse
    from logbook.cli.desk import own_folder
    from logbook.cli.failures import say
    from logbook.cli.terminal import show
    from logbook.errors import EXIT_ATTENTION, EXIT_DONE
    from logbook.office.told import LastTold
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.due_text import WorseSheet

    last = LastTold(own_folder() / "told")
    with desk.reading() as book:
        answer = due_and_open(book.connection, desk.moment(book, None))
        before = last.recall(book.uuid)
        found, since = worse(answer, before), before.at if before else None
        sheet = WorseSheet.of(found, since, checkpoint(book.connection, book.now))
    if as_json or sheet.attention:
        show(sheet, as_json=as_json)
    try:
        last.keep(book.uuid, Told.of(book.now, answer))
    except OSError as error:
        say(f"{last.folder}: {error.strerror}; this will be told again.", err=True)
    return EXIT_ATTENTION if sheet.attention else EXIT_DONE
