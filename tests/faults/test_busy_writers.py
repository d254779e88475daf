"""Several programs at one ledger: nothing is lost, whoever must wait too long is told so."""

import os
import random
import time
from collections.abc import Callable
from concurrent.futures import Executor, Future
from pathlib import Path

import pytest

from logbook.ledger.connect import BUSY_TIMEOUT_MS
from tests.faults.bench import Place, Ran, run
from tests.faults.commands import DUE, NOTE
from tests.faults.oracle import REFUSED, entries
from tests.faults.writers import Tally, busy_writers, hold, impatient, killed_writers, started

ROUNDS = {"quick": 4, "ci": 200, "full": 300}
EACH = {"quick": {2: 20, 8: 5}, "ci": {2: 2_000, 8: 250}, "full": {2: 2_000, 8: 250}}
"""How many notes each of two and each of eight writers appends."""
HELD_S = {"quick": 1.5, "ci": 15.0, "full": 15.0}


def test_two_busy_writers_killed_at_once_lose_nothing_they_were_told(
    benches: Executor, clinics: Path, tmp_path: Path, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    start = Place(clinics / "clinic")
    rounds = [
        benches.submit(killed_writers, start, tmp_path / str(number), chance.getrandbits(32))
        for number in range(ROUNDS[size])
    ]
    seen = [one.result() for one in rounds]
    breaches = [f"round {n}: {breach}" for n, one in enumerate(seen) for breach in one.breaches]
    told, untold, hot = (
        sum(getattr(one, name) for one in seen) for name in ("told", "untold", "hot")
    )
    report(
        f"kill -9 of two busy writers: {len(seen)} rounds, {told} notes told as saved, "
        f"{untold} there untold, {hot} journals to play back, {len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)
    assert told >= len(seen)


@pytest.fixture(scope="module")
def crowds(
    benches: Executor, clinics: Path, tmp_path_factory: pytest.TempPathFactory, size: str
) -> dict[int, "Future[tuple[Tally, int]]"]:
    """Both crowds at work at the same time, each on a ledger of its own: one waits on its lock."""
    start = Place(clinics / "clinic")
    return {
        count: benches.submit(
            busy_writers, start, tmp_path_factory.mktemp("crowd") / "busy", "abcdefgh"[:count], each
        )
        for count, each in EACH[size].items()
    }


@pytest.mark.parametrize("writers", [2, 8])
def test_writers_at_the_same_time_lose_nothing_and_share_one_chain(
    crowds: dict[int, "Future[tuple[Tally, int]]"], writers: int, size: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    each = EACH[size][writers]
    seen, refusals = crowds[writers].result()
    report(
        f"{writers} writers: {seen.told} of {writers * each} notes told as saved, "
        f"{refusals} refused for waiting and tried again, {len(seen.breaches)} breaches"
    )
    assert not seen.breaches, "\n".join(seen.breaches)
    assert (seen.told, seen.untold) == (writers * each, 0)


def beside_a_holder(start: Place, folder: Path, held_s: float) -> dict[str, tuple[Ran, float]]:
    """What a question and a note come to while another program holds the lock, and afterwards."""
    place = start.copy(folder)
    change = impatient if held_s * 1000 < BUSY_TIMEOUT_MS else None
    holder = started(hold(place.ledger, held_s))
    journal = place.ledger.with_name("clinic.ledger-journal")
    while not journal.exists():
        time.sleep(0.01)
    seen = {}
    for name, command in (("reading", DUE), ("waiting", NOTE)):
        began = time.monotonic()
        ran = run(place, command.words, change)
        seen[name] = (ran, time.monotonic() - began)
    os.waitpid(holder, 0)
    seen["again"] = (run(place, NOTE.words, change), 0.0)
    return seen


def test_a_writer_that_waits_too_long_is_told_so_while_reading_goes_on(
    benches: Executor, clinics: Path, tmp_path: Path, size: str, report: Callable[[str], None]
) -> None:
    start, folder = Place(clinics / "clinic"), tmp_path / "held"
    seen = benches.submit(beside_a_holder, start, folder, HELD_S[size]).result()
    (reading, read_s), (waiting, waited_s), (again, _) = seen.values()
    report(
        f"a lock held for {HELD_S[size]:.1f} s: read within {read_s:.1f} s, "
        f"the writer told after {waited_s:.1f} s with code {waiting.code}"
    )
    assert (reading.code, reading.err) == (3, "")
    assert read_s < HELD_S[size] / 3
    assert (waiting.code, waiting.out) == (5, "")
    assert waited_s > (0.4 if size == "quick" else 10)
    assert REFUSED.fullmatch(waiting.err), waiting.err
    waited = "0.5" if size == "quick" else "10"
    told = f"was in use by another program for more than {waited} seconds; try again"
    assert told in waiting.err
    assert (again.code, again.err) == (0, "")
    old = entries(start.ledger)
    assert [len(entries(Place(folder).ledger)), *old] == [len(old) + 1, *old]
