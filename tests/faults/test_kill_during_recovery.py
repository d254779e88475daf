"""A program that is killed while it plays a journal back leaves the journal for the next one."""

import random
import shutil
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

import pytest

from logbook.errors import InputError
from logbook.recording.record import start_ledger
from tests.conftest import NOW, ZONE
from tests.faults.bench import Call, Place, fresh, killed_at, run, traced
from tests.faults.commands import BY_NAME, DUE, NOTE, Writing, begin_of
from tests.faults.oracle import entries, whole
from tests.faults.trials import all_of, breaches_of, drawn, kill, record_calls

CRASHED = ("case log", "check", "correct", "import", "rebuild")
"""Two survivors of each: killed early and late in the writing of the ledger itself."""


def survivor(start: Place, folder: Path, command: Writing, call: Call) -> tuple[Place, list[str]]:
    """What a kill left behind, a journal among it, and what verifying it as it lies there finds."""
    place = start.copy(folder)
    traced(place, command.words, killed_at(call), saying=False)
    assert place.is_hot()
    for kept in place.desk.glob("*.pending-*"):
        kept.unlink()  # Nobody types this command again here, for which it would wait a while.
    return place, fresh(lambda: list(whole(place.ledger)))


def in_the_ledger(calls: list[Call]) -> list[Call]:
    """The calls during which the ledger is neither what it was nor what it shall be."""
    writes = [call for call in calls if (call.name, call.file) == ("pwrite64", "/clinic.ledger")]
    return [writes[1], calls[calls.index(writes[-1]) + 2]]


@pytest.mark.parametrize("name", CRASHED)
def test_a_recovery_killed_at_any_call_is_done_by_the_next_command(
    benches: Executor, clinics: Path, tmp_path: Path, name: str, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    command = BY_NAME[name]
    start = begin_of(command, clinics)
    one = benches.submit(record_calls, start, tmp_path / "calls", command, saying=False)
    places: list[Place] = []
    jobs: list[tuple[object, ...]] = []
    for number, call in enumerate(in_the_ledger(one.result().calls)):
        where = tmp_path / f"survivor-{number}"
        place, found_bad = benches.submit(survivor, start, where, command, call).result()
        assert found_bad == []
        places.append(place)
        following = (NOTE, DUE)[number]
        seen = benches.submit(
            record_calls, place, tmp_path / f"next-{number}", following, saying=False
        ).result()
        gone = [call.name for call in seen.calls].index("unlink")
        assert seen.calls[gone].file == "/clinic.ledger-journal"
        for point in drawn(seen.calls[: gone + 3], size, chance, quick=1):
            jobs.append((place, tmp_path / f"kill-{number}-{point}", seen, point))
    outcomes = all_of(benches, kill, jobs)
    breaches = breaches_of(outcomes)
    hot = sum(outcome.hot for outcome in outcomes)
    report(
        f"kill during recovery from {name}: {len(places)} survivors, {len(outcomes)} kills, "
        f"{hot} left the journal once more, {len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)


def test_a_new_ledger_is_not_founded_beside_the_journal_of_another(
    benches: Executor, clinics: Path, tmp_path: Path
) -> None:
    """SQLite would play the journal into the new file; the one it belongs to was moved away."""
    command = BY_NAME["import"]
    start = begin_of(command, clinics)
    one = benches.submit(record_calls, start, tmp_path / "calls", command, saying=False).result()
    call = in_the_ledger(one.calls)[1]
    place, _ = benches.submit(survivor, start, tmp_path / "gone", command, call).result()
    moved = tmp_path / "elsewhere"
    moved.mkdir()
    shutil.move(place.ledger, moved / place.ledger.name)
    journal = place.ledger.with_name("clinic.ledger-journal")
    before = journal.read_bytes()
    with pytest.raises(InputError, match="is what a crash left of another ledger; move it to"):
        start_ledger(place.ledger, [], ZONE, NOW)
    assert not place.ledger.exists()
    assert journal.read_bytes() == before
    shutil.move(journal, moved)
    found_bad = benches.submit(fresh, whole_of, moved / place.ledger.name).result()
    assert found_bad == []


def whole_of(ledger: Path) -> list[str]:
    """Every breach as a list, which can be handed from one process to another."""
    return list(whole(ledger))


def backed_up_after_a_crash(start: Place, folder: Path) -> tuple[int, int]:
    """How many entries the backup holds, and how many the ledger, after an import was killed when
    all of it was written and nothing of it committed."""
    command = BY_NAME["import"]
    calls = record_calls(start, folder / "calls", command, saying=False).calls
    committing = [call for call in calls if call.name == "unlink"][-1]
    place = start.copy(folder / "crashed")
    traced(place, command.words, killed_at(committing), saying=False)
    assert place.is_hot()
    assert run(place, BY_NAME["backup"].words).code == 0
    return len(entries(place.desk / "copy.ledger")), len(entries(place.ledger))


def test_a_backup_after_a_crash_holds_what_the_ledger_plays_back_to(
    benches: Executor, clinics: Path, tmp_path: Path
) -> None:
    """A plain copy of the file would hold the import that was never saved."""
    start = begin_of(BY_NAME["import"], clinics)
    copied, played_back = benches.submit(backed_up_after_a_crash, start, tmp_path).result()
    assert copied == played_back
