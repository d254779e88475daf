"""Somebody moves, links, locks or replaces what a command works on, while it stands at any call."""

import os
import random
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from contextlib import closing, suppress
from itertools import product
from pathlib import Path

import pytest

from logbook.errors import EXIT_ATTENTION, EXIT_DONE
from tests.faults.bench import Place, Ran, fresh, stopped_at, traced
from tests.faults.commands import BY_NAME
from tests.faults.oracle import REFUSED, UNKNOWN, entries, plain, typed, whole
from tests.faults.trials import Recording, all_of, drawn, record_calls

Change = Callable[[Place], None]
MOST = 8
"""So many calls of a command, unless all are tried."""
COMMANDS = ("note", "import", "check", "backup", "rebuild", "forecast show")


def elsewhere(place: Place) -> Path:
    return place.folder / "elsewhere"


def folder_moved(place: Place) -> None:
    place.desk.rename(elsewhere(place))


def folder_back(place: Place) -> None:
    if place.desk.exists():
        shutil.rmtree(place.desk)
    elsewhere(place).rename(place.desk)


def folder_behind_a_link(place: Place) -> None:
    folder_moved(place)
    place.desk.symlink_to(elsewhere(place))


def file_moved(place: Place) -> None:
    place.ledger.rename(elsewhere(place))


def file_back(place: Place) -> None:
    elsewhere(place).rename(place.ledger)


def second_name(place: Place) -> None:
    os.link(place.ledger, elsewhere(place))


def one_name(place: Place) -> None:
    elsewhere(place).unlink()


def written_by_another(place: Place) -> None:
    with suppress(sqlite3.Error), closing(sqlite3.connect(place.ledger, timeout=0.1)) as raw, raw:
        raw.execute("UPDATE person SET name = 'Another'")


def wal_beside(place: Place) -> None:
    place.ledger.with_name(place.ledger.name + "-wal").write_bytes(b"x" * 64)


def wal_away(place: Place) -> None:
    place.ledger.with_name(place.ledger.name + "-wal").unlink(missing_ok=True)


def nothing(_: Place) -> None:
    """What was changed stays as it is."""


CHANGES: dict[str, tuple[Change, Change]] = {
    "the folder is moved": (folder_moved, folder_back),
    "the folder is put behind a link": (folder_behind_a_link, nothing),
    "the file is moved": (file_moved, file_back),
    "the file gets a second name": (second_name, one_name),
    "another program writes": (written_by_another, nothing),
    "what is left of another way of writing": (wal_beside, wal_away),
}
"""What is done while the command stands still, and how it is put right when it has ended."""


def changed_at(
    start: Place, folder: Path, recording: Recording, number: int, what: str
) -> list[str]:
    """Let a command stand still after one of its calls, change the folder, and let it go on."""
    place, call = start.copy(folder), recording.calls[number]
    change, put_right = CHANGES[what]
    words = recording.expected.command.words
    ran, _ = traced(place, words, stopped_at(call), meanwhile=lambda: change(place))
    put_right(place)
    found: list[str] = fresh(lambda: [*_breaches(place, recording, ran)])
    shutil.rmtree(folder)
    return [f"{what}, at {call.shown}: {one}" for one in found]


def _breaches(place: Place, recording: Recording, ran: Ran) -> Iterator[str]:
    place.settle_in()
    before, now = recording.expected.before, entries(place.ledger)
    if now[: len(before)] != before:
        yield "entries that were acknowledged have changed"
    added = len(now) - len(before)
    if ran.code in (EXIT_DONE, EXIT_ATTENTION):
        if added != recording.expected.command.adds:
            yield f"told as done, and {added} entries are new"
    elif REFUSED.fullmatch(ran.err):
        if added:
            yield f"told as not saved, and {added} entries are new"
    elif not UNKNOWN.fullmatch(ran.err):
        yield f"it said, with code {ran.code}: {ran.out}{ran.err}"
    yield from whole(place.ledger)
    yield from plain("a note", typed(place, "note", "after all"), 0)


@pytest.mark.parametrize("name", COMMANDS)
def test_whatever_becomes_of_the_folder_at_any_call_what_is_told_is_what_happened(
    benches: Executor, clinics: Path, tmp_path: Path, name: str, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    start, command = Place(clinics / "clinic"), BY_NAME[name]
    one = benches.submit(record_calls, start, tmp_path / "recording", command, saying=False)
    recording = one.result()
    numbers = drawn(recording.calls, size, chance, quick=1)
    if size != "full" and len(numbers) > MOST:
        numbers = chance.sample(numbers, MOST)
    ways = [chance.choice([*CHANGES])] if size == "quick" else [*CHANGES]
    jobs = [
        (start, tmp_path / f"{place}-{number}", recording, number, what)
        for number, (place, what) in product(numbers, enumerate(ways))
    ]
    breaches = [each for found in all_of(benches, changed_at, jobs) for each in found]
    report(f"the folder changes under {name}: {len(jobs)} times, {len(breaches)} breaches")
    assert not breaches, "\n".join(breaches)
