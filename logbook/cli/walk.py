"""Walking a list in the terminal: one item at a time, a key for each answer."""

import time
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

import click

from logbook.cli.desk import has_terminal
from logbook.cli.failures import ended
from logbook.cli.terminal import wrapped
from logbook.errors import InputError, NotSaved

if TYPE_CHECKING:
    from logbook.answers.checking import ToWalk
    from logbook.checklists import Answer, Item

STATES = {"p": "passed", "f": "failed", "n": "not done", "x": "not fitted"}
PAD = {"1": "p", "2": "f", "3": "n", "4": "x", "0": "?"}
"""The keys of a number pad, for a hand that holds something; a letter does the same."""
BEFORE_DIGIT = "/"
"""Where a number is an answer, this tells a key from it; every number pad has one."""
BACK, TIME = ("b", "-"), ("t", "+")
REASONS = {"1": "patient waiting", "2": "no time", "3": "something is missing"}
"""Why an item was not done, for a number pad; our own words, and any others do."""


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
    from logbook.sheets.walk_text import instruction

    if not has_terminal():
        raise click.UsageError("there is no terminal to walk the list in; give --answers FILE")
    items = walk.items
    again = f", again (entry {walk.again.entry})" if walk.again else ""
    click.echo(
        wrapped(
            f"{walk.machine}: {walk.checklist.title}{again}. - goes back one item. "
            "Every answer is kept; Ctrl-C stops, to go on later. A number pad is enough; the "
            "letters p f n x ? b t do the same as 1 2 3 4 0 - +."
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
        click.echo(wrapped(f"  {instruction(walk, item)}", "  "))
        if _ask(walk, item, so_far, is_last=at + 1 == len(items)):
            at += 1
        elif at:
            # A gauge misread or a hold cut short must be measured again before the check is
            # saved, or it stays in the ledger as a failure.
            at -= 1
            so_far.take_back(items[at])


def _ask(walk: "ToWalk", item: "Item", so_far: "Progress", *, is_last: bool) -> bool:
    """Ask one item until the answer fits and is kept; the last value is shown only after the new
    one. False goes back one item."""
    while True:
        keys = wrapped(f"  {_keys(walk, item)} >", "  ")
        typed = click.prompt(keys, prompt_suffix=" ", default="", show_default=False)
        if typed.strip().lower() in BACK:
            return False
        try:
            answer = _answer(walk, item, typed.strip())
            if answer is None:
                continue
            answer = _with_pressure(item, answer)
            judged = walk.judged(item, answer)
        except InputError as error:
            click.echo(wrapped(f"  {ended(str(error))}", "  "))
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
        redo = judged.state != "passed" and _measured(answer) and not is_last
        again = ". To do it again type -" if redo else ""
        click.echo(wrapped(f"  {mark}{found}{before}{again}", "  "))
        return True


def _measured(answer: "Answer") -> bool:
    return answer.value is not None or answer.held_s is not None


def _with_pressure(item: "Item", answer: "Answer") -> "Answer":
    """The answer with the pressure that was read in a test, asked where it was not told."""
    told = answer.pressure_cmh2o is not None or answer.timed
    if item.pressure is None or told or not _measured(answer):
        return answer
    timed = answer.held_s is not None
    begin = _pressure(item, "Pressure at its begin" if timed else "Pressure read")
    end = _pressure(item, "Pressure at its end") if timed and begin else None
    return replace(answer, pressure_cmh2o=begin, end_pressure_cmh2o=end)


def _pressure(item: "Item", what: str) -> str | None:
    """A pressure as it was read; None where Enter says that nobody read it.

    Raises:
        InputError: the item is to be answered anew.
    """
    from logbook.checklists.answering import read_pressure

    while True:
        question = wrapped(f"  {what}, in cmH2O (Enter: not read) >", "  ")
        typed = click.prompt(question, prompt_suffix=" ", default="", show_default=False)
        if not typed.strip():
            return None
        if typed.strip().lower() in BACK:
            raise InputError("Once more")
        try:
            return read_pressure(item, typed)
        except InputError as error:
            click.echo(wrapped(f"  {ended(str(error))}", "  "))


def _keys(walk: "ToWalk", item: "Item") -> str:
    number = [f"number in {item.unit}", *(["+ time a hold"] if item.or_hold else [])]
    if item.or_hold and walk.timed_first(item):
        number = ["+ time a hold", f"or number in {item.unit}"]
    words = {
        "tick": ["1 passed"],
        "choice": [f"{n} {word}" for n, word in enumerate(item.choices, start=1)],
        "number": number,
        "hold": ["+ time it", "or seconds"],
    }[item.kind]
    mark = "" if item.kind == "tick" else BEFORE_DIGIT
    words += [f"{mark}2 failed"] if item.kind != "choice" else []
    words += [f"{mark}3 not done"]
    words += [f"{mark}4 not fitted"] if item.fits else []
    return ", ".join([*words, f"{mark}0 why"])


def _letter(item: "Item", typed: str) -> str:
    """The letter that a key of the number pad stands for; other words as they were typed."""
    if typed.startswith(BEFORE_DIGIT) or item.kind == "tick":
        return PAD.get(typed.removeprefix(BEFORE_DIGIT), typed)
    return TIME[0] if typed in TIME else typed


def _answer(walk: "ToWalk", item: "Item", typed: str) -> "Answer | None":
    """The answer that a key or a text means; None where the item is asked again."""
    from logbook.checklists import Answer
    from logbook.checklists.answering import answer_in_fields, answer_in_words

    key = _letter(item, typed.lower())
    if key == "?":
        click.echo(wrapped(f"  {item.why} Source: {item.source} [{item.confidence}].", "  "))
        return None
    if not key:
        return None
    if key in STATES and not (key == "p" and item.kind != "tick"):
        reason = _reason(key)
        if reason.lower() in BACK:
            return None
        return answer_in_fields(item, {"state": STATES[key], "reason": reason})
    if key == TIME[0] and (item.kind == "hold" or item.or_hold):
        return _timed_fall(walk, item) if item.pressure else Answer(held_s=_timed(), timed=True)
    if item.kind == "tick":
        raise InputError(f"{typed[:20]!a} is none of the keys; type one of them, then Enter")
    return answer_in_words(item, typed)


def _reason(key: str) -> str:
    """Why an item was not done, or what was seen; one of ``BACK`` asks the item again."""
    if key == "n":
        usual = ", ".join(f"{digit} {reason}" for digit, reason in REASONS.items())
        asked = wrapped(f"  Not done, because ({usual}, - back, or in words) >", "  ")
        typed = str(click.prompt(asked, prompt_suffix=" ")).strip()
        return REASONS.get(typed, typed)
    if key == "f":
        asked = wrapped("  What was seen (Enter for nothing, - back) >", "  ")
        return str(click.prompt(asked, prompt_suffix=" ", default="", show_default=False)).strip()
    return ""


def _timed(ends: str = "Enter when it falls") -> int:
    """Time a hold from one Enter to the next; whole seconds, rounded down."""
    click.prompt("  Enter starts the clock", prompt_suffix="", default="", show_default=False)
    began = time.monotonic()
    click.prompt(f"  {ends}", prompt_suffix="", default="", show_default=False)
    return int(time.monotonic() - began)


def _timed_fall(walk: "ToWalk", item: "Item") -> "Answer":
    """Time how far a pressure falls; it is read before the clock starts, and when it stops."""
    from logbook.checklists import Answer
    from logbook.units import format_decimal

    least = item.or_hold or item.at_least
    begin = _pressure(item, "Pressure at its begin") if least else None
    if least is None or begin is None:
        return Answer(held_s=_timed(), timed=True)
    least_s = format_decimal(walk.limits[least])
    held_s = _timed(f"Read the gauge after {least_s} s or later, and press Enter")
    end = _pressure(item, "Pressure at its end")
    return Answer(held_s=held_s, timed=True, pressure_cmh2o=begin, end_pressure_cmh2o=end)
