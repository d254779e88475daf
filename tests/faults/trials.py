"""One fault at a time: a fresh copy of the clinic, the fault, and what is found afterwards."""

import random
import shutil
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import TypeVar

from tests.faults.bench import Call, Change, Place, Ran, fails_at, fresh, killed_at, traced
from tests.faults.commands import Writing
from tests.faults.oracle import (
    REFUSED,
    UNKNOWN,
    VERIFIED,
    Aftermath,
    Expected,
    Said,
    aftermath,
    entries,
    meanings,
)

SIGKILL = -9
LONG = 60
"""A command of more calls writes page after page; every one of our daily commands is shorter."""
VERY_LONG = 600
"""So many calls are those of an upgrade of years of entries."""
T = TypeVar("T")


@dataclass(frozen=True)
class Recording:
    """A command that nothing hindered: its calls, and what it does."""

    expected: Expected
    calls: list[Call]


@dataclass(frozen=True)
class Outcome:
    """What became of one fault."""

    at: str
    hit: bool
    """Whether the fault came about at all."""
    hot: bool
    """Whether it left a journal that the next program must play back."""
    after: Aftermath

    @property
    def breaches(self) -> list[str]:
        """Every breach, with the fault that led to it."""
        missed = [] if self.hit else ["the fault never came about"]
        return [f"{self.at}: {breach}" for breach in [*missed, *self.after.breaches]]


def record_calls(
    start: Place, folder: Path, command: Writing, *, saying: bool, change: Change | None = None
) -> Recording:
    """Run a command without a fault; ``saying`` counts its writing of what was saved as well."""
    place = start.copy(folder)
    before = entries(place.ledger) if place.ledger.exists() else []
    ran, calls = traced(place, command.words, saying=saying, change=change)
    assert ran.out, ran
    assert not ran.err, ran
    after = entries(place.ledger)
    added = meanings(after[len(after) - command.adds :])
    return Recording(Expected(command, before, added, ran.code), calls)


def kill(
    start: Place, folder: Path, recording: Recording, number: int, change: Change | None = None
) -> Outcome:
    """Kill the command at one of its calls; ``change`` is also made before all that follows."""
    expected, call = recording.expected, recording.calls[number]
    place = start.copy(folder)
    ran, seen = traced(place, expected.command.words, killed_at(call), change=change)
    said = Said(saved=True if ran.out else None, to_the_end=False)
    hot = place.is_hot()
    found = look_after(place, expected, said, number, change)
    shutil.rmtree(folder)
    at = f"{expected.command.name} killed at call {number + 1}, {call.shown}"
    if ran.code != SIGKILL:
        at += f" ({ran.code}, {_parting(recording.calls, seen)})"
    return Outcome(at, ran.code == SIGKILL, hot, found)


def _parting(recorded: Sequence[Call], seen: Sequence[Call]) -> str:
    """Where a run parted from the one that was recorded, which tells why a fault never came."""
    for number, (one, other) in enumerate(zip(recorded, seen, strict=False), start=1):
        if (one.name, one.file) != (other.name, other.file):
            return f"call {number} was {other.shown} in place of {one.shown}"
    return f"{len(seen)} calls in place of {len(recorded)}"


def fail(
    start: Place, folder: Path, recording: Recording, number: int, error: str, for_good: bool
) -> Outcome:
    """Let one of a command's calls fail, and where ``for_good`` all that follow it."""
    expected, calls = recording.expected, recording.calls
    place = start.copy(folder)
    faults = fails_at(calls, number, error, for_good=for_good)
    ran, seen = traced(place, expected.command.words, faults, saying=False)
    said = _said(ran, expected)
    hot = place.is_hot()
    found = look_after(place, expected, said, number)
    shutil.rmtree(folder)
    how = "from then on" if for_good else "once"
    at = f"{expected.command.name} with {error} {how} at call {number + 1}, {calls[number].shown}"
    found.breaches.extend(_badly_said(ran, said))
    return Outcome(at, any("INJECTED" in one.shown for one in seen), hot, found)


def _said(ran: Ran, expected: Expected) -> Said:
    if UNKNOWN.fullmatch(ran.err):
        return Said(saved=None, to_the_end=True)
    return Said(saved=bool(ran.out) and ran.code == expected.code, to_the_end=True)


def _badly_said(ran: Ran, said: Said) -> list[str]:
    """Done without a word on stderr; or one sentence, and the code that goes with it."""
    if said.saved:
        well = not ran.err
    elif said.saved is None:
        well = ran.code == 1 and not ran.out
    else:
        well = ran.code == 5 and not ran.out and bool(REFUSED.fullmatch(ran.err))
    return [] if well else [f"it said, with code {ran.code}: {ran.out}{ran.err}"]


def look_after(
    place: Place, expected: Expected, said: Said, number: int, change: Change | None = None
) -> Aftermath:
    """The oracle, in a fresh process; a bench keeps in mind which states it found whole."""

    def look() -> Aftermath:
        if change:
            change()
        return aftermath(place, expected, said, number)

    found: Aftermath = fresh(look)
    if not found.breaches:
        VERIFIED.add(found.state)
    return found


def landmarks(calls: Sequence[Call]) -> list[int]:
    """The first and the last call of each name on each file: where a command changes its step."""
    seen: dict[tuple[str, str], list[int]] = {}
    for number, call in enumerate(calls):
        seen.setdefault((call.name, call.file), []).append(number)
    return sorted({number for each in seen.values() for number in (each[0], each[-1])})


def drawn(calls: Sequence[Call], size: str, chance: random.Random, quick: int) -> list[int]:
    """The calls at which a fault is tried.

    All of them; but where a command writes page after page to the same file, the runs are thinned
    unless the size is ``full``, of a very long command the landmarks are taken, and of a quick run
    chance draws a few of those.
    """
    if size == "quick":
        return sorted(chance.sample(landmarks(calls), quick))
    if size == "full" or len(calls) <= LONG:
        return list(range(len(calls)))
    if len(calls) > VERY_LONG:
        return landmarks(calls)
    runs = groupby(range(len(calls)), key=lambda number: (calls[number].name, calls[number].file))
    kept: set[int] = set()
    for _, run in runs:
        numbers = list(run)
        kept.update(numbers[::8], numbers[:2], numbers[-2:])
    return sorted(kept)


def all_of(benches: Executor, trial: Callable[..., T], jobs: Iterable[Sequence[object]]) -> list[T]:
    """Every trial, shared out among the benches."""
    waiting = [benches.submit(trial, *job) for job in jobs]
    return [one.result() for one in waiting]


def breaches_of(outcomes: Iterable[Outcome]) -> list[str]:
    """Every breach of every trial."""
    return [breach for outcome in outcomes for breach in outcome.breaches]
