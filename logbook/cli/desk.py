"""The desk at which every command works: the ledger's path, the clock, and how saving is told."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from logbook.cli.failures import say
from logbook.errors import InputError

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.entries.base import Body
    from logbook.office.office import Office, Opened
    from logbook.office.taking_down import Content, Recorded
    from logbook.proof.seen import Memory
    from logbook.recording.retry import Identity


ANOTHER = "If this is another one, add --again."
ATTENTION = "logbook.attention"
"""Under this name the context of a command keeps that what it saved calls for somebody."""

NOWHERE = Path(os.devnull) / "nowhere"
"""The folder of a person whom the computer gives none: nothing can be kept there."""


def own_folder() -> Path:
    """The person's folder: the ledger, unless told otherwise, and what was seen of ledgers."""
    folder = Path(click.get_app_dir("gas-machine-logbook"))
    # Without a home the name begins with a tilde that stands for nothing.
    return folder if folder.is_absolute() else NOWHERE


def default_path() -> Path:
    """Where the ledger lies when nobody names another place.

    Raises:
        InputError: the computer gives this person no folder.
    """
    if own_folder() == NOWHERE:
        raise InputError(
            "this computer gives you no folder of your own (HOME is not set); "
            "name the ledger's file with --ledger"
        )
    return own_folder() / "clinic.ledger"


@dataclass(frozen=True, slots=True)
class Desk:
    """What a command needs to know of the world."""

    path: Path
    kept: "list[Identity]" = field(default_factory=list)
    """Identities of entries that were not yet told as saved."""

    def now(self) -> datetime:
        """The real clock, in UTC and whole seconds."""
        from logbook.clock import now

        return now()

    def office(self) -> "Office":
        """The office that does the work of this desk."""
        from logbook.office.office import Office

        return Office(self.path, self.memory(), self.now)

    @contextmanager
    def reading(self, *, long: bool = False) -> "Iterator[Opened]":
        """The ledger, open for reading; a ``long`` look holds up nobody."""
        with self.office().reading(_warn, long=long) as opened:
            yield opened

    @contextmanager
    def writing(self) -> "Iterator[Opened]":
        """The ledger, open for writing; commits at the end, and then remembers the head."""
        with self.office().writing(_warn) as opened:
            yield opened
        self.kept.extend(opened.identities)

    def memory(self) -> "Memory":
        """What this computer saw of ledgers before."""
        from logbook.proof.seen import Memory

        return Memory(own_folder() / "seen")

    def moment(self, opened: "Opened", as_of: str | None, option: str = "--as-of") -> "Moment":
        """The moment a question is asked for: now, the end of a day, or an instant."""
        from logbook.answers.moment import end_of, moment_at
        from logbook.clock import EARLIEST

        zone = opened.zone
        if as_of is None:
            return moment_at(opened.now, zone)
        if ":" in as_of or as_of.strip().lower() == "now":
            moment = moment_at(opened.instant(as_of, option), zone)
        else:
            moment = end_of(opened.day(as_of, option), zone)
        if moment.at_s < EARLIEST.timestamp():
            raise InputError(f"{option} {as_of} lies before the year 2000; check the date")
        return moment

    def days(
        self, opened: "Opened", today: "date", first: str, last: str | None
    ) -> "tuple[date, date]":
        """A span of days that began by ``today``; without a last day it ends then."""
        begin = opened.day(first, "--from")
        end = opened.day(last, "--to") if last else today
        if begin > today:
            raise InputError(
                f"--from {begin} lies in the future of {today}; there is nothing to look at yet"
            )
        if begin > end:
            raise InputError(f"--from {begin} lies after --to {end}; exchange the two")
        return begin, end

    def instant(self, opened: "Opened", at: str | None) -> datetime:
        """When something happened: as told, else now."""
        return opened.now if at is None else opened.instant(at, "--at")

    def record(
        self,
        content: "Body | Callable[[Opened], Content]",
        *,
        by: str | None,
        at: str | datetime | None = None,
        signed: bool = True,
    ) -> "Recorded":
        """Save one entry, then say what was saved and what follows from it.

        ``content`` may be a function of the open ledger, which also answers when it happened,
        where either depends on what stands there. ``signed`` entries need initials.
        """
        initials = signature(by) if signed else by or ""
        with self.writing() as opened:
            recorded = self.take_down(opened, content, at=at, by=initials)
        # Said only after the transaction has ended: what is told as saved is on the disk.
        self.tell(opened, recorded)
        return recorded

    def take_down(
        self,
        opened: "Opened",
        content: "Body | Callable[[Opened], Content]",
        *,
        by: str,
        at: str | datetime | None = None,
        identity: "Identity | None" = None,
    ) -> "Recorded":
        """Save one entry in a transaction that is open already; says nothing yet.

        It is known again by its ``identity``, or else by the words that are typed.
        """
        from logbook.entries.base import Door
        from logbook.office.taking_down import Told, take_down

        def told(opened: "Opened") -> "Content":
            if callable(content):
                return content(opened)
            return content, at if isinstance(at, datetime) else self.instant(opened, at)

        typed = "" if callable(content) else content.canonical()
        door = Door(name="shell")
        known_by = identity or self._identity(opened, by, typed)
        return take_down(opened, Told(told, by, lambda _: known_by, door))

    def tell(self, opened: "Opened", *saved: "Recorded") -> None:
        """Say what was saved, and what follows from it."""
        from logbook.cli.refusal import how_to
        from logbook.cli.terminal import wrapped
        from logbook.office.office import CLOCK_WENT_BACK
        from logbook.sheets.consequences import consequence_text

        lines = []
        for one in saved:
            first: list[str] = []
            then = [saved_line(opened, one)]
            for follows in one.consequences:
                told = consequence_text(follows, opened.zone)
                told += how_to(follows.act, follows.about)
                (first if follows.first else then).append(told)
            lines += first + then
            lines += [ANOTHER] if one.saved.again else []
            lines += [CLOCK_WENT_BACK] if one.saved.clock_went_back else []
        for line in lines:
            click.echo(wrapped(line))
        if any(one.attention for one in saved):
            click.get_current_context().meta[ATTENTION] = True

    def _identity(self, opened: "Opened", *more: str) -> "Identity":
        """The identity of what is typed: its words in whatever order, and ``more``."""
        from logbook.cli.options import AGAIN
        from logbook.recording.retry import identity

        ctx = click.get_current_context()
        words = [f"{name}={value}" for name, value in sorted(ctx.params.items())]
        another: bool = ctx.meta.get(AGAIN, False)
        return identity(self.path, opened.uuid, [ctx.command_path, *words, *more], another=another)


def _warn(sentence: str) -> None:
    say(sentence, err=True)


def signature(by: str | None) -> str:
    """The initials that sign an entry; asked for in a terminal, demanded elsewhere."""
    if by:
        return by
    from logbook.cli.options import INITIALS

    return str(ask("Your initials", "--by", type=INITIALS))


def has_terminal() -> bool:
    """Whether there is somebody to ask."""
    return sys.stdin is not None and sys.stdin.isatty()


def ask(question: str, option: str, **more: Any) -> Any:
    """Ask in a terminal; without one, fail naming the option that answers the question."""
    if not has_terminal():
        raise click.UsageError(f"there is no terminal to ask in; give {option}")
    return click.prompt(question, **more)


def saved_line(opened: "Opened", recorded: "Recorded") -> str:
    """One line on what stands in the ledger now."""
    from logbook.sheets.recorded_text import marks_text
    from logbook.sheets.sentences import sentence
    from logbook.times import local_text

    saved = recorded.saved
    said = sentence(saved.entry, opened.zone) + marks_text(recorded.how)
    if saved.again:
        at = local_text(saved.entry.recorded_at, opened.zone)
        return f"Already recorded as entry {saved.entry.seq} at {at}: {said}."
    return f"Saved entry {saved.entry.seq}: {said}."
