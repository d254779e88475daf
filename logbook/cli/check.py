"""Walking a pre-use check."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import signed

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command()
@click.argument("machine")
@click.option("--list", "list_name", default="daily", help="daily, before-case, or your own.")
@click.option(
    "--answers",
    type=click.File(encoding="utf-8", lazy=True),
    metavar="FILE",
    help="Answers as JSON.",
)
@signed
@click.pass_obj
def check(
    desk: "Desk", machine: str, list_name: str, answers: Any, at: str | None, by: str | None
) -> int:
    """Walk a checklist on a machine, item by item.

    Measured items take a number with its unit and are judged here. Nothing is saved before the
    last item is answered; Ctrl-C leaves nothing behind. A file of answers holds one object:
    {"flowmeters": "passed", "breathing-system-leak": {"value": "150 mL/min"}, ...}.

    \b
    Examples:
      logbook check bay1 --by KO
      logbook check bay1 --list before-case --answers answers.json --by KO
    """
    from logbook.answers.checking import check_body, to_walk
    from logbook.answers.moment import moment_at
    from logbook.cli.desk import signature
    from logbook.errors import EXIT_ATTENTION, EXIT_DONE
    from logbook.recording.refusals import refuse_beforehand
    from logbook.sheets.check_text import consequences

    initials = signature(by)
    with desk.reading() as book:
        happened_at = desk.instant(book, at)
        moment = moment_at(happened_at, book.zone)
        walk = to_walk(book.connection, moment, machine, list_name)
        # A walk takes minutes: what would be refused after it is refused before it.
        refuse_beforehand(book.connection, machine, happened_at, initials, desk.now())
    if answers is not None:
        from logbook.cli.answers_file import read_answers

        given = read_answers(answers, walk)
    else:
        from logbook.cli.walk import walk_list

        given = walk_list(walk)
    body = check_body(walk, given)
    saved = desk.record(body, at=at, by=initials, then=lambda *_: consequences(body))
    passed = saved.entry.body.verdict == "passed"  # type: ignore[attr-defined]
    return EXIT_DONE if passed else EXIT_ATTENTION
