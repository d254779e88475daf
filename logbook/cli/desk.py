"""The desk at which every command works: the ledger's path, the clock, and how saving is told."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from logbook.cli.failures import say
from logbook.errors import InputError

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.entries.base import Body
    from logbook.office.office import Content, Office, Opened, Recorded
    from logbook.proof.seen import Memory
    from logbook.recording.record import Saved
    from logbook.recording.retry import Identity


ANOTHER = "If this is another one, add --again."


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
        from datetime import UTC

        return datetime.now(UTC).replace(microsecond=0)

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

    def moment(self, opened: "Opened", as_of: str | None) -> "Moment":
        """The moment a question is asked for: now, the end of a day, or an instant."""
        from logbook.answers.moment import end_of, moment_at
        from logbook.recording.refusals.claim import EARLIEST
        from logbook.times import parse_day, parse_instant

        now, zone = opened.now, opened.zone
        if as_of is None:
            return moment_at(now, zone)
        if ":" in as_of or as_of.strip().lower() == "now":
            moment = moment_at(parse_instant(as_of, zone, now, "--as-of"), zone)
        else:
            moment = end_of(parse_day(as_of, zone, now, "--as-of"), zone)
        if moment.at_s < EARLIEST.timestamp():
            raise InputError(f"--as-of {as_of} lies before the year 2000; check the date")
        return moment

    def instant(self, opened: "Opened", at: str | None) -> datetime:
        """When something happened: as told, else now."""
        from logbook.times import parse_instant

        return opened.now if at is None else parse_instant(at, opened.zone, opened.now, "--at")

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
    ) -> "Recorded":
        """Save one entry in a transaction that is open already; says nothing yet."""
        from logbook.office.office import Told, take_down

        def told(opened: "Opened") -> "Content":
            if callable(content):
                return content(opened)
            return content, at if isinstance(at, datetime) else self.instant(opened, at)

        typed = "" if callable(content) else content.canonical()
        return take_down(opened, Told(told, by, lambda _: self._identity(opened, by, typed)))

    def tell(self, opened: "Opened", *saved: "Recorded") -> None:
        """Say what was saved, and what follows from it."""
        from logbook.cli.refusal import how_to
        from logbook.cli.terminal import wrapped
        from logbook.office.office import CLOCK_WENT_BACK
        from logbook.sheets.consequences import consequence_text

        lines = []
        for one in saved:
            lines.append(saved_line(opened, one.saved))
            for follows in one.consequences:
                told = consequence_text(follows, opened.zone)
                lines.append(f"{told}{how_to(follows.act, follows.about)}")
            lines += [ANOTHER] if one.saved.again else []
            lines += [CLOCK_WENT_BACK] if one.saved.clock_went_back else []
        for line in lines:
            click.echo(wrapped(line))

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


def saved_line(opened: "Opened", saved: "Saved") -> str:
    """One line on what stands in the ledger now."""
    from logbook.sheets.sentences import sentence
    from logbook.times import local_text

    said = sentence(saved.entry, opened.zone)
    if saved.again:
        recorded = local_text(saved.entry.recorded_at, opened.zone)
        return f"Already recorded as entry {saved.entry.seq} at {recorded}: {said}."
    return f"Saved entry {saved.entry.seq}: {said}."
