"""A signal at any call and an output that fails at any writing: what is told is what happened."""

import random
import re
import signal
from collections.abc import Callable
from concurrent.futures import Executor
from itertools import product
from pathlib import Path

import pytest

from tests.faults.bench import Place, traced
from tests.faults.commands import COMMANDS_THAT_WRITE, Writing, begin_of
from tests.faults.oracle import REFUSED, Said
from tests.faults.trials import (
    Outcome,
    Recording,
    all_of,
    breaches_of,
    drawn,
    landmarks,
    look_after,
    record_calls,
)

NOT_SHOWN = re.compile(r"Saved, but what was saved could not be shown: [^\n]+\.\n")
OUTPUT_ERRORS = ("ENOSPC", "EIO", "EBADF", "EPIPE")
EVERY = pytest.mark.parametrize("command", COMMANDS_THAT_WRITE, ids=lambda command: command.name)


SIGNALS = {"Ctrl-C": "SIGINT", "shutdown": "SIGTERM", "closed terminal": "SIGHUP"}


def stoppable() -> None:
    """A process that a terminal started; one in the background would ignore Ctrl-C."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


def interrupt(start: Place, folder: Path, recording: Recording, number: int, sent: str) -> Outcome:
    """Ask the command to end where it is about to make a call."""
    expected, call = recording.expected, recording.calls[number]
    place = start.copy(folder)
    fault = [f"{call.name}:signal={sent}:when={call.nth}"]
    ran, seen = traced(place, expected.command.words, fault, change=stoppable)
    said = Said(saved=ran.code == expected.code and bool(ran.out), to_the_end=True)
    found = look_after(place, expected, said, number)
    if said.saved:
        well = not ran.err
    elif sent == "SIGINT":
        well = ran.code == 1 and not ran.out and bool(REFUSED.fullmatch(ran.err.lstrip()))
    else:  # Nobody reads on, and what is not told was not done.
        well = ran.code == -getattr(signal, sent) and not ran.out and not found.saved
    if not well:
        found.breaches.append(f"it said, with code {ran.code}: {ran.out}{ran.err}")
    at = f"{expected.command.name} sent {sent} at call {number + 1}, {call.shown}"
    return Outcome(at, len(seen) >= number, hot=False, after=found)


@EVERY
@pytest.mark.parametrize("by", SIGNALS)
def test_a_signal_at_any_call_stops_the_command_or_comes_too_late_and_is_told_as_it_was(
    benches: Executor, clinics: Path, tmp_path: Path, command: Writing, by: str, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    start = begin_of(command, clinics)
    one = benches.submit(record_calls, start, tmp_path / "calls", command, saying=True)
    recording = one.result()
    numbers = drawn(recording.calls, size, chance, quick=1)
    # Where it was wrong once: as the journal goes or the name is given, and until all is told.
    turns = [at for at in landmarks(recording.calls) if recording.calls[at].name in TURNS]
    numbers = sorted({*numbers, *turns[-2:], len(recording.calls) - 1})
    if size == "quick" and by != "Ctrl-C":
        numbers = numbers[-2:]  # The way of Ctrl-C is theirs; only their names could be missing.
    sent = SIGNALS[by]
    jobs = [(start, tmp_path / f"stop-{number}", recording, number, sent) for number in numbers]
    outcomes = all_of(benches, interrupt, jobs)
    breaches = breaches_of(outcomes)
    saved = sum(bool(outcome.after.saved) for outcome in outcomes)
    report(
        f"{by}, {command.name}: at {len(outcomes)} of {len(recording.calls)} calls, "
        f"{saved} with the change made, {len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)


TURNS = ("unlink", "link", "rename")


def unshown(
    start: Place, folder: Path, recording: Recording, number: int, error: str
) -> Outcome:  # fmt: skip
    """Let the writing of what was saved fail, at one of its lines and from then on."""
    expected, calls = recording.expected, recording.calls
    place = start.copy(folder)
    faults = [f"write:error={error}:when={calls[number].nth}+"]
    ran, seen = traced(place, expected.command.words, faults, saying=True)
    found = look_after(place, expected, Said(saved=True, to_the_end=True), number)
    if error == "EPIPE":  # Nobody reads on, which is no failure.
        well = ran.code == 0 and not ran.err
    else:
        well = ran.code == 1 and bool(NOT_SHOWN.fullmatch(ran.err))
    if not well:
        found.breaches.append(f"it said, with code {ran.code}: {ran.out}{ran.err}")
    at = f"{expected.command.name} with {error} at call {number + 1}, {calls[number].shown}"
    return Outcome(at, any("INJECTED" in one.shown for one in seen), hot=False, after=found)


@EVERY
def test_an_output_that_fails_at_any_writing_never_makes_done_work_undone(
    benches: Executor, clinics: Path, tmp_path: Path, command: Writing, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    start = begin_of(command, clinics)
    one = benches.submit(record_calls, start, tmp_path / "calls", command, saying=True)
    recording = one.result()
    said = [at for at, call in enumerate(recording.calls) if call.shown.startswith("write(1<")]
    assert said
    errors = [chance.choice(OUTPUT_ERRORS)] if size == "quick" else OUTPUT_ERRORS
    jobs = [
        (start, tmp_path / f"{error}-{number}", recording, number, error)
        for number, error in product(said, errors)
    ]
    outcomes = all_of(benches, unshown, jobs)
    breaches = breaches_of(outcomes)
    report(
        f"output that fails, {command.name}: {len(outcomes)} at {len(said)} writings, "
        f"{len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)
