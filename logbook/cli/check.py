"""Walking a pre-use check."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from logbook.cli.options import FILLED, TAG, signed

if TYPE_CHECKING:
    from logbook.answers.checking import ToWalk
    from logbook.answers.unfinished import Unfinished
    from logbook.checklists import Answer
    from logbook.cli.desk import Desk
    from logbook.cli.unfinished import Choice


@click.command()
@click.argument("machine", type=TAG)
@click.option("--list", "list_name", default="daily", help="daily, before-case, or your own.")
@click.option(
    "--answers",
    type=click.File(encoding="utf-8", lazy=True),
    metavar="FILE",
    help="Answers as JSON.",
)
@click.option(
    "--redo",
    "item",
    type=FILLED,
    metavar="ITEM",
    help="Do one item of the last check again, alone.",
)
@click.option("--go-on", "choice", flag_value="go on", help="Go on with a check that was begun.")
@click.option("--anew", "choice", flag_value="anew", help="Throw it away and begin anew.")
@click.option("--throw-away", "choice", flag_value="throw away", help="Throw it away.")
@signed
@click.pass_obj
def check(
    desk: "Desk", machine: str, list_name: str, answers: Any, item: str | None,
    choice: "Choice | None", at: str | None, by: str | None,
) -> int:  # fmt: skip
    """Walk a checklist on a machine, item by item.

    Measured items take a number with its unit and are judged here. Every answer is kept as it is
    given: after Ctrl-C, or when the terminal was closed, the same command goes on. A file of
    answers holds one object:
    {"flowmeters": "passed", "breathing-system-leak": "150 mL/min at 30 cmH2O", ...}.

    \b
    Examples:
      logbook check bay1 --by KO
      logbook check bay1 --list before-case --answers answers.json --by KO
      logbook check bay1 --redo breathing-system-leak --by KO
    """
    from logbook.answers.checking import check_body
    from logbook.cli.desk import signature
    from logbook.cli.unfinished import changed
    from logbook.errors import EXIT_ATTENTION, EXIT_DONE
    from logbook.office.unfinished import throw_away
    from logbook.recording.retry import Identity

    initials = signature(by)
    found = _found(desk, machine, list_name, at=at, by=initials)
    choice = _decided(found, choice, by=initials)
    if choice == "throw away":
        changed(desk, lambda book: throw_away(book, found.stands()))
        click.echo(f"Thrown away: {found.sentence}.")
        return EXIT_DONE
    walk = _items_again(desk, found, item, going_on=choice == "go on")
    given, followed, begun = _answered(desk, walk, found.begun, choice, answers, by=initials)
    body = check_body(walk, given, followed if at is None else None)

    with desk.writing() as opened:
        # A time that was told is read once: what "8:10" means may have changed since.
        # A walk that was kept is known by its own identity, at whatever door it is saved.
        identity = Identity(followed.id) if followed else None
        done = desk.take_down(opened, body, at=at and found.at, by=initials, identity=identity)
        if begun is not None and not done.saved.again:
            throw_away(opened, begun)
    desk.tell(opened, done)
    return EXIT_DONE if body.verdict == "passed" else EXIT_ATTENTION


@dataclass(frozen=True, slots=True)
class _Found:
    """What a check begins with: the whole list, and the check that somebody began before."""

    walk: "ToWalk"
    at: datetime
    begun: "Unfinished | None"
    sentence: str
    ended: bool

    def stands(self) -> "Unfinished":
        """The check that was begun.

        Raises:
            click.UsageError: there is none.
        """
        if self.begun is None:
            name, machine = self.walk.checklist.name, self.walk.machine
            raise click.UsageError(f"no {name} check of {machine} was begun")
        return self.begun


def _found(desk: "Desk", machine: str, list_name: str, *, at: str | None, by: str) -> _Found:
    """Read what a check needs, and refuse before the walk what would be refused after it."""
    from logbook.answers.checking import to_walk
    from logbook.answers.moment import moment_at
    from logbook.answers.unfinished import LIMIT, unfinished
    from logbook.recording.refusals import refuse_beforehand
    from logbook.sheets.unfinished import unfinished_text

    with desk.reading() as book:
        now, happened_at = book.now, desk.instant(book, at)
        walk = to_walk(book.connection, moment_at(happened_at, book.zone), machine, list_name)
        refuse_beforehand(book.connection, machine, happened_at, by, now)
        begun = unfinished(book.connection, machine, list_name)
        if begun is None:
            return _Found(walk, happened_at, None, "", ended=False)
        limit_h = walk.limits[LIMIT]
        told = unfinished_text(begun, now.astimezone(book.zone), limit_h)
        return _Found(walk, happened_at, begun, told, begun.has_ended(now, limit_h))


def _decided(found: _Found, choice: "Choice | None", *, by: str) -> "Choice":
    """What becomes of the check that was begun; a check of which nothing was begun is a new one."""
    from logbook.cli.unfinished import chosen, refuse_to_go_on

    if found.begun is None:
        if choice in ("go on", "throw away"):
            found.stands()
        return "anew"
    decided = choice or chosen(found.begun, found.sentence, by=by, ended=found.ended)
    if decided == "go on":
        refuse_to_go_on(found.begun, found.walk, ended=found.ended)
    return decided


def _items_again(desk: "Desk", found: _Found, item: str | None, *, going_on: bool) -> "ToWalk":
    """The walk as it is done: the whole list, or some items of the last check again."""
    from logbook.answers.again import done_again

    items, of = frozenset([item] if item else []), None
    if going_on and found.begun is not None:
        of = found.begun.again_of
        items = items | found.begun.kept.keys() if of is not None else frozenset()
    if not items:
        return found.walk
    with desk.reading() as book:
        return done_again(book.connection, found.at, found.walk, items, of)


def _answered(
    desk: "Desk", walk: "ToWalk", begun: "Unfinished | None", choice: "Choice", answers: Any, *,
    by: str,
) -> "tuple[Mapping[str, Answer], Unfinished | None, Unfinished | None]":  # fmt: skip
    """The answers, the walk in which they were kept, and the begun check that they end."""
    from logbook.cli.unfinished import Progress, changed
    from logbook.cli.walk import walk_list
    from logbook.office.unfinished import throw_away

    going_on = begun if choice == "go on" else None
    if answers is not None:
        from logbook.cli.answers_file import read_answers

        given = read_answers(answers, walk, going_on.answers if going_on else {})
        if going_on is None:
            return given, None, begun
        kept = {key: one for key, one in going_on.kept.items() if key not in given}
        return going_on.answers | given, replace(going_on, kept=kept), begun
    if begun is not None and going_on is None:
        changed(desk, lambda book: throw_away(book, begun))
    progress = Progress(desk, walk, by, going_on)
    progress.take_over()
    with progress.kept_when_stopped():
        walk_list(walk, progress)
    return progress.answers, progress.so_far, progress.so_far
