"""Walking a list in the terminal: one item at a time, a key for each answer."""

import time
from collections.abc import Mapping
from typing import TYPE_CHECKING, Protocol

import click

from logbook.cli.desk import has_terminal
from logbook.cli.terminal import wrapped
from logbook.errors import InputError, NotSaved

if TYPE_CHECKING:
    from logbook.answers.checking import ToWalk
    from logbook.checklists import Answer, Item

STATES = {"p": "passed", "f": "failed", "n": "not done", "x": "not fitted"}


class Progress(Protocol):
    """What was answered so far, and where the next answer is kept."""

    @property
    def answers(self) -> "Mapping[str, Answer]":
        """The answers by item."""

    def keep(self, item: "Item", answer: "Answer") -> None:
        """Keep one answer."""

    def take_back(self, item: "Item") -> None:
        """Forget one answer, because it is to be given anew."""


def walk_list(walk: "ToWalk", so_far: "Progress") -> None:
    """Ask every item that has no answer yet, in order; each answer is kept as it is given."""
    if not has_terminal():
        raise click.UsageError("there is no terminal to walk the list in; give --answers FILE")
    items = walk.items
    again = f", again (entry {walk.again.entry})" if walk.again else ""
    click.echo(
        wrapped(
            f"{walk.machine}: {walk.checklist.title}{again}. b goes back one item. "
            "Every answer is kept; Ctrl-C stops, to go on later."
        )
    )
    at, group = 0, ""
    while at < len(items):
        item = items[at]
        if item.key in so_far.answers:
            at += 1
            continue
        if item.group != group:
            group = item.group
            click.echo(f"\n{wrapped(group)}")
        click.echo(wrapped(f"{at + 1}/{len(items)} {item.title}"))
        click.echo(wrapped(f"  {item.how}{_pressure(walk, item)}", "  "))
        if _ask(walk, item, so_far, is_last=at + 1 == len(items)):
            at += 1
        elif at:
            # A gauge misread or a hold cut short must be measured again before the check is
            # saved, or it stays in the ledger as a failure.
            at -= 1
            so_far.take_back(items[at])


def _pressure(walk: "ToWalk", item: "Item") -> str:
    """The pressure of the test, which a clinic may set, so that the list's words leave it out."""
    return f" Test pressure: {walk.limits[item.pressure]} cmH2O." if item.pressure else ""


def _ask(walk: "ToWalk", item: "Item", so_far: "Progress", *, is_last: bool) -> bool:
    """Ask one item until the answer fits and is kept; the last value is shown only after the new
    one. False goes back one item."""
    from logbook.checklists import judge

    while True:
        keys = wrapped(f"  {_keys(item)} >", "  ")
        typed = click.prompt(keys, prompt_suffix=" ", default="", show_default=False)
        if typed.strip().lower() == "b":
            return False
        try:
            answer = _answer(item, typed.strip())
            if answer is None:
                continue
            judged = judge(item, answer, walk.limits)
        except InputError as error:
            click.echo(wrapped(f"  {error}.", "  "))
            continue
        try:
            so_far.keep(item, answer)
        except NotSaved as error:
            click.echo(wrapped(f"  {error.lead}: {error}. Answer once more.", "  "))
            continue
        last = walk.last.get(item.key)
        before = f" (last: {last})" if last and _measured(answer) else ""
        mark = "FAIL" if judged.state == "failed" else judged.state
        finding = judged.sentence.removeprefix(judged.state).removeprefix(": ")
        found = f": {finding}" if finding else ""
        redo = judged.state == "failed" and _measured(answer) and not is_last
        again = ". To do it again type b" if redo else ""
        click.echo(wrapped(f"  {mark}{found}{before}{again}", "  "))
        return True


def _measured(answer: "Answer") -> bool:
    return answer.value is not None or answer.held_s is not None


def _keys(item: "Item") -> str:
    words = {
        "tick": ["p passed"],
        "choice": [f"{n} {word}" for n, word in enumerate(item.choices, start=1)],
        "number": [f"number in {item.unit}", *(["t time a hold"] if item.or_hold else [])],
        "hold": ["t time it", "or seconds"],
    }[item.kind]
    words += ["f failed"] if item.kind != "choice" else []
    words += ["n not done"]
    words += ["x not fitted"] if item.fits else []
    return ", ".join([*words, "? why"])


def _answer(item: "Item", typed: str) -> "Answer | None":
    """The answer that a key or a text means; None where the item is asked again."""
    from logbook.checklists import Answer
    from logbook.checklists.answering import answer_in_fields, answer_in_words

    key = typed.lower()
    if key == "?":
        click.echo(wrapped(f"  {item.why} Source: {item.source} [{item.confidence}].", "  "))
        return None
    if not key:
        return None
    if key in STATES and not (key == "p" and item.kind != "tick"):
        return answer_in_fields(item, {"state": STATES[key], "reason": _reason(key)})
    if key == "t" and (item.kind == "hold" or item.or_hold):
        return Answer(held_s=_timed(), timed=True)
    if item.kind == "tick":
        raise InputError(f"{typed[:20]!a} is none of the keys; type one of them, then Enter")
    return answer_in_words(item, typed)


def _reason(key: str) -> str:
    if key == "n":
        return str(click.prompt("  Not done, because", prompt_suffix=" > "))
    if key == "f":
        typed = click.prompt(
            "  What was seen (Enter for nothing)", prompt_suffix=" > ", default="",
            show_default=False,
        )  # fmt: skip
        return str(typed)
    return ""


def _timed() -> int:
    """Time a hold from one Enter to the next; whole seconds, rounded down."""
    click.prompt("  Enter starts the clock", prompt_suffix="", default="", show_default=False)
    began = time.monotonic()
    click.prompt("  Enter when it falls", prompt_suffix="", default="", show_default=False)
    return int(time.monotonic() - began)
