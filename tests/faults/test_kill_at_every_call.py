"""A writing command that is killed at any of its calls loses nothing and hinders nobody."""

import random
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

import pytest

from tests.faults.commands import COMMANDS_THAT_WRITE, Writing, begin_of
from tests.faults.trials import all_of, breaches_of, drawn, kill, record_calls


@pytest.mark.parametrize("command", COMMANDS_THAT_WRITE, ids=lambda command: command.name)
def test_a_command_killed_at_any_call_loses_nothing_and_is_finished_by_typing_it_again(
    benches: Executor, clinics: Path, tmp_path: Path, command: Writing, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    start = begin_of(command, clinics)
    one = benches.submit(record_calls, start, tmp_path / "recording", command, saying=True)
    recording = one.result()
    numbers = drawn(recording.calls, size, chance, quick=1)
    jobs = [(start, tmp_path / f"kill-{number}", recording, number) for number in numbers]
    outcomes = all_of(benches, kill, jobs)
    breaches = breaches_of(outcomes)
    hot = sum(outcome.hot for outcome in outcomes)
    saved = sum(bool(outcome.after.saved) for outcome in outcomes)
    report(
        f"kill, {command.name}: at {len(outcomes)} of {len(recording.calls)} calls, "
        f"{hot} with a journal to play back, {saved} after the change was whole, "
        f"{len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)
