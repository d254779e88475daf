"""Saving an answer of a check: killed at any call, and on a disk that fails at any call."""

import random
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from itertools import product
from pathlib import Path

from tests.faults.bench import Place
from tests.faults.trials import all_of, drawn
from tests.faults.walks import Walked, record_walk, walk_killed, walk_on_a_bad_disk


def counted(walked: Sequence[Walked]) -> tuple[str, list[str]]:
    missed = sum(not one.hit for one in walked)
    breaches = [breach for one in walked for breach in one.breaches]
    kept = sum(one.kept for one in walked)
    return f"{len(walked)} faults, {kept} with the answer kept", breaches + ["no fault"] * missed


def test_a_walk_killed_at_any_call_keeps_the_answer_or_never_had_it_and_is_finished_elsewhere(
    benches: Executor, clinics: Path, tmp_path: Path, size: str, chance: random.Random,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    start = Place(clinics / "clinic")
    calls = benches.submit(record_walk, start, tmp_path / "calls", saying=True).result()
    numbers = drawn(calls, size, chance, quick=2)
    jobs = [(start, tmp_path / f"kill-{number}", calls[number]) for number in numbers]
    told, breaches = counted(all_of(benches, walk_killed, jobs))
    report(f"kill, an answer of a check: {told}, {len(breaches)} breaches")
    assert not breaches, "\n".join(breaches)


def test_a_disk_error_at_any_call_of_a_walk_is_told_and_the_check_is_finished_elsewhere(
    benches: Executor, clinics: Path, tmp_path: Path, size: str, chance: random.Random,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    start = Place(clinics / "clinic")
    calls = benches.submit(record_walk, start, tmp_path / "calls", saying=False).result()
    numbers = drawn(calls, size, chance, quick=2)
    ways = [*product(("ENOSPC", "EIO"), (False, True))]
    ways = [chance.choice(ways)] if size == "quick" else ways
    jobs = [
        (start, tmp_path / f"{error}-{for_good}-{number}", calls, number, error, for_good)
        for number, (error, for_good) in product(numbers, ways)
    ]
    told, breaches = counted(all_of(benches, walk_on_a_bad_disk, jobs))
    report(f"disk errors, an answer of a check: {told}, {len(breaches)} breaches")
    assert not breaches, "\n".join(breaches)
