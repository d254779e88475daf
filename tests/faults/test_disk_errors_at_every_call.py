"""A disk that is full or broken at any call loses nothing, and the person is told so once."""

import random
from collections.abc import Callable
from concurrent.futures import Executor
from itertools import product
from pathlib import Path

import pytest

from tests.faults.commands import BY_NAME, begin_of
from tests.faults.trials import all_of, breaches_of, drawn, fail, landmarks, record_calls

WAYS = [*product(("ENOSPC", "EIO"), (False, True))]
"""Which error, and whether it is there from then on."""
TWO_WAYS = [WAYS[0], WAYS[-1]]

SYNCS = ("fsync", "fdatasync")


@pytest.mark.parametrize("name", ["case log", "import", "rebuild", "backup", "restore", "new"])
def test_a_disk_error_at_any_call_loses_nothing_and_is_told_in_one_sentence(
    benches: Executor, clinics: Path, tmp_path: Path, name: str, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    command = BY_NAME[name]
    start = begin_of(command, clinics)
    one = benches.submit(record_calls, start, tmp_path / "calls", command, saying=False)
    recording = one.result()
    numbers = drawn(recording.calls, size, chance, quick=1)
    syncs = [at for at, call in enumerate(recording.calls) if call.name in SYNCS]
    # After the last one the change stands, and yet the disk did not say so; never left to chance.
    numbers = sorted({*numbers, syncs[-1]})
    ways = [chance.choice(WAYS)] if size == "quick" else WAYS
    if size == "ci" and name != "case log":
        # Every call of the commonest command in every way; of the others, where their step changes.
        numbers, ways = landmarks(recording.calls), TWO_WAYS
    jobs = [
        (start, tmp_path / f"{error}-{for_good}-{number}", recording, number, error, for_good)
        for number, (error, for_good) in product(numbers, ways)
    ]
    outcomes = all_of(benches, fail, jobs)
    breaches = breaches_of(outcomes)
    saved = sum(bool(outcome.after.saved) for outcome in outcomes)
    report(
        f"disk errors, {name}: {len(outcomes)} at {len(numbers)} of {len(recording.calls)} calls, "
        f"{saved} with the change made all the same, {len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)
