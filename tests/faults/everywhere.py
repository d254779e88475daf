"""A fault at any call of a command or form: where it is tried, what is counted, what must hold."""

import random
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from tests.faults.bench import Place
from tests.faults.commands import Writing
from tests.faults.trials import (
    Outcome,
    all_of,
    breaches_of,
    drawn,
    fail,
    kill,
    landmarks,
    record_calls,
)

WAYS = [*product(("ENOSPC", "EIO"), (False, True))]
"""Which error, and whether it is there from then on."""
TWO_WAYS = [WAYS[0], WAYS[-1]]
SYNCS = ("fsync", "fdatasync")


@dataclass(frozen=True)
class Everywhere:
    """The trials of one test: who runs them, where, how many, by which chance, who is told."""

    benches: Executor
    folder: Path
    size: str
    chance: random.Random
    report: Callable[[str], None]

    def killed(self, start: Place, command: Writing, *, quick: int) -> None:
        """Kill it at each call; a quick run draws so many of them."""
        calls = self.folder / "calls"
        recording = self.benches.submit(record_calls, start, calls, command, saying=True).result()
        numbers = drawn(recording.calls, self.size, self.chance, quick)
        jobs = [(start, self.folder / f"kill-{number}", recording, number) for number in numbers]
        outcomes = all_of(self.benches, kill, jobs)
        where = f"at {len(outcomes)} of {len(recording.calls)} calls"
        self._hold(f"kill, {command.name}: {where}", outcomes)

    def failing(self, start: Place, command: Writing, *, quick: int, thorough: bool) -> None:
        """Let each call fail; in CI every call in every way of what is tried ``thorough``ly, and of
        the others those where their step changes."""
        calls = self.folder / "calls"
        recording = self.benches.submit(record_calls, start, calls, command, saying=False).result()
        syncs = [at for at, call in enumerate(recording.calls) if call.name in SYNCS]
        # After the last the change stands, and yet the disk did not say so; never left to chance.
        numbers = sorted({*drawn(recording.calls, self.size, self.chance, quick), syncs[-1]})
        ways = [self.chance.choice(WAYS)] if self.size == "quick" else WAYS
        if self.size == "ci" and not thorough:
            numbers, ways = landmarks(recording.calls), TWO_WAYS
        jobs = [
            (
                start,
                self.folder / f"{error}-{for_good}-{number}",
                recording,
                number,
                error,
                for_good,
            )
            for number, (error, for_good) in product(numbers, ways)
        ]
        outcomes = all_of(self.benches, fail, jobs)
        where = f"{len(outcomes)} at {len(numbers)} of {len(recording.calls)} calls"
        self._hold(f"disk errors, {command.name}: {where}", outcomes)

    def _hold(self, what: str, outcomes: Sequence[Outcome]) -> None:
        breaches = breaches_of(outcomes)
        hot = sum(outcome.hot for outcome in outcomes)
        saved = sum(bool(outcome.after.saved) for outcome in outcomes)
        self.report(
            f"{what}, {hot} with a journal to play back, {saved} with the change made, "
            f"{len(breaches)} breaches"
        )
        assert not breaches, "\n".join(breaches)
