"""At the terminal: what becomes of a check that somebody began, and keeping what is answered."""

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Literal, TypeVar

import click

from logbook.cli.desk import has_terminal
from logbook.cli.terminal import wrapped
from logbook.errors import Act, InputError, Interrupted

if TYPE_CHECKING:
    from logbook.answers.checking import ToWalk
    from logbook.answers.unfinished import Unfinished
    from logbook.checklists import Answer, Item
    from logbook.cli.desk import Desk
    from logbook.recording.opening import Book

T = TypeVar("T")
Choice = Literal["go on", "anew", "throw away"]
OPTIONS = "--go-on, --anew or --throw-away"
_KEYS: dict[str, Choice] = {
    "1": "go on", "g": "go on", "2": "anew", "a": "anew", "3": "throw away", "t": "throw away",
}  # fmt: skip


def chosen(begun: "Unfinished", sentence: str, *, by: str, ended: bool) -> Choice:
    """Ask what becomes of a check that was begun; only a person decides.

    Raises:
        click.UsageError: there is nobody to ask.
    """
    if not has_terminal():
        raise click.UsageError(f"{sentence}; give {OPTIONS}")
    click.echo(wrapped(f"{sentence}."))
    other = begun.walked_by
    go_on = "1 go on" if other == by else f"1 take it over from {other}"
    keys = ", ".join([*([] if ended else [go_on]), "2 begin anew", "3 throw away"])
    while True:
        typed = click.prompt(wrapped(f"  {keys} >", "  "), prompt_suffix=" ", default="",
                             show_default=False)  # fmt: skip
        choice = _KEYS.get(typed.strip().lower())
        if choice is not None and not (ended and choice == "go on"):
            return choice


def changed(desk: "Desk", change: "Callable[[Book], T]") -> T:
    """What a change outside the chain answers, in a transaction of its own.

    Not as the desk writes: nothing is done yet, so that Ctrl-C must still end the walk.
    """
    from logbook.recording.opening import writing

    with writing(desk.path) as book:
        return change(book)


class Progress:
    """The answers of one walk, each kept in the ledger's file as it is given."""

    def __init__(
        self, desk: "Desk", walk: "ToWalk", by: str, so_far: "Unfinished | None" = None
    ) -> None:
        self._desk = desk
        self._walk = walk
        self._by = by
        self.so_far = so_far

    @property
    def answers(self) -> "Mapping[str, Answer]":
        """The answers by item."""
        return self.so_far.answers if self.so_far else {}

    def keep(self, item: "Item", answer: "Answer") -> None:
        """Keep one answer."""
        from logbook.office import unfinished

        now = self._desk.now()
        again_of = self._walk.again.entry if self._walk.again else None

        def kept(book: "Book") -> "Unfinished":
            begun = self.so_far or unfinished.begin(book, self._walk, self._by, now, again_of)
            given = (item, answer)
            return unfinished.keep(book, self._walk, begun, given, by=self._by, now=now)

        self.so_far = changed(self._desk, kept)

    def take_back(self, item: "Item") -> None:
        """Forget one answer, because it is to be given anew."""
        from logbook.office import unfinished

        if (so_far := self.so_far) is not None:
            self.so_far = changed(
                self._desk, lambda book: unfinished.take_back(book, so_far, item, self._by)
            )

    def take_over(self) -> None:
        """Go on with what another person began."""
        from logbook.office import unfinished

        if (so_far := self.so_far) is not None and so_far.walked_by != self._by:
            self.so_far = changed(
                self._desk, lambda book: unfinished.take_over(book, so_far, self._by)
            )

    @contextmanager
    def kept_when_stopped(self) -> Iterator[None]:
        """Say what is kept where a person stops half-way.

        Raises:
            Interrupted: it was stopped after the first answer.
        """
        try:
            yield
        except (click.Abort, KeyboardInterrupt):
            from logbook.answers.last_checks import DAILY_LIST

            if not self.answers:
                raise
            if sys.stderr.isatty():
                click.echo(err=True)  # The line on which Ctrl-C was typed ends here.
            done = sum(1 for item in self._walk.items if item.key in self.answers)
            name = self._walk.checklist.name
            raise Interrupted(
                f"{done} of {len(self._walk.items)} items are answered and kept",
                act=Act.GO_ON,
                about=self._walk.machine + ("" if name == DAILY_LIST else f" --list {name}"),
            ) from None


def refuse_to_go_on(begun: "Unfinished", walk: "ToWalk", *, ended: bool) -> None:
    """Refuse to go on with what came to its end, or with another version of the list.

    Raises:
        InputError: it says which of them it is.
    """
    if ended:
        raise InputError("its first answers are too old to go on", "give --anew or --throw-away")
    if begun.version != walk.checklist.version:
        raise InputError(
            f"the list {begun.checklist} has version {walk.checklist.version} since then",
            "give --anew or --throw-away",
        )
