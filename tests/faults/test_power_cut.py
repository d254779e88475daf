"""The power goes off at any moment: what was told as saved is there afterwards.

The calls of real commands are recorded, and the disk of ``disk.py`` says which states a power cut
could leave behind. Each state is opened by the program and verified.
"""

import hashlib
import json
import pickle
import random
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from logbook.errors import LogbookError
from logbook.ledger.store import head
from logbook.proof.verify import verify
from logbook.recording.opening import reading
from tests.faults.bench import Place
from tests.faults.commands import COMMANDS_THAT_WRITE, Writing, found_clinic
from tests.faults.disk import Disk, Event, record

STATES = {"quick": 150, "ci": 5_000, "full": 10_000}
OFF, AS_IT_IS = "0", ""
"""The setting of SQLite with which a recorded program runs."""
PROGRAM = """
import json, os, sys
from pathlib import Path
from logbook.cli import logbook
from logbook.cli.failures import run
from logbook.ledger import connect
from logbook.ledger.store import head
from logbook.recording.opening import reading
if sys.argv[1]:
    connect.WRITE_SETTINGS["synchronous"] = int(sys.argv[1])
for words in json.loads(sys.argv[2]):
    code = run(logbook, words)
    sys.stdout.flush()
    with reading(Path(os.environ["LOGBOOK_LEDGER"])) as book:
        count, last = head(book.connection)
    os.write(2, f"#{code} {count} {last}\\n".encode())
"""
Head = tuple[int, str]
NOTHING: Head = (0, "")
NAMING = ("create", "unlink", "rename", "link")
LEDGER, COPY = "clinic.ledger", "copy.ledger"
FOUNDING = [one for one in COMMANDS_THAT_WRITE if one.name == "new"]
WORK = [one for one in COMMANDS_THAT_WRITE if one.name != "new"]
BACKUP_AT = [one.name for one in WORK].index("backup") + 1
"""How many commands are done when the backup is."""


@dataclass(frozen=True)
class Recording:
    """What some commands did, the folder before it, and the head after each of them."""

    folder: Path
    events: list[Event]
    heads: list[Head]


@pytest.fixture(scope="module")
def clinic(traces: None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("power")
    found_clinic(folder)
    return folder


def recorded(
    place: Place, commands: list[Writing], synchronous: str, monkeypatch: pytest.MonkeyPatch
) -> Recording:
    """Run commands for real, on a copy of the place that is thrown away."""
    used = place.copy(place.folder.with_name(f"{place.folder.name}-used-{synchronous}"))
    with monkeypatch.context() as patch:
        patch.setenv("LOGBOOK_LEDGER", str(used.ledger))
        patch.setenv("LOGBOOK_BY", "KO")
        patch.setenv("XDG_CONFIG_HOME", str(used.folder / "config"))
        patch.chdir(used.folder)
        words = json.dumps([used.words(command.words) for command in commands])
        run = [sys.executable, "-c", PROGRAM, synchronous, words]
        events = record(run, used.desk, used.folder / "trace")
    told = [event.data.decode() for event in events if event.what == "say" and event.path == "2"]
    ends = [line.split() for line in told if line.startswith("#")]
    assert len(ends) == len(commands)
    assert {code for code, *_ in ends} <= {"#0", "#3"}, told
    before = head_of(place.ledger) if place.ledger.exists() else NOTHING
    return Recording(
        place.desk,
        [_moved(event, used.desk, place.desk) for event in events],
        [before, *((int(count), last) for _, count, last in ends)],
    )


def _moved(event: Event, used: Path, place: Path) -> Event:
    """The same call in the folder that nobody has changed."""
    path, other = (one.replace(str(used), str(place), 1) for one in (event.path, event.other))
    return Event(event.what, path, other, event.offset, event.data)


def head_of(path: Path) -> Head:
    with reading(path) as book:
        return head(book.connection)


@dataclass(frozen=True)
class Cut:
    """A state after a power cut, and how many commands had said by then that they were done."""

    files: dict[str, bytes]
    acknowledged: int


def cuts(recording: Recording, states: int, chance: random.Random) -> Iterator[Cut]:
    """States after power cuts: a third of them anywhere, a third where something was just said,
    and a third where a name was just made, taken away or moved."""
    disk, acknowledged, said = Disk(recording.folder), 0, False
    anywhere = range(len(recording.events))
    whats = [event.what for event in recording.events]
    told = [number for number in anywhere if whats[number] == "say"]
    named = [number for number in anywhere if whats[number] in NAMING]
    places = (anywhere, told, named)
    points = Counter(chance.choice(places[number % 3]) for number in range(states))
    for number, event in enumerate(recording.events):
        if event.what == "say":
            if event.path == "1" and event.data and not said:
                acknowledged, said = acknowledged + 1, True
            said = said and not event.data.startswith(b"#")
        disk.do(event)
        for _ in range(points[number]):
            yield Cut(disk.power_cut(chance), acknowledged)


class Judge:
    """Opens and verifies states, each content once."""

    def __init__(self, folder: Path, recording: Recording) -> None:
        self._folder = folder
        self._heads = recording.heads
        self._verified: dict[str, bool] = {}
        self._judged: dict[tuple[int, str], str] = {}

    def judge(self, cut: Cut) -> str:
        """How a state stands: ``kept``, or what is wrong with it."""
        digest = hashlib.sha256(pickle.dumps(sorted(cut.files.items()))).hexdigest()
        key = (cut.acknowledged, digest)
        if key not in self._judged:
            self._judged[key] = self._judge(cut)
        return self._judged[key]

    def _judge(self, cut: Cut) -> str:
        for old in self._folder.iterdir():
            old.unlink()
        for name, content in cut.files.items():
            (self._folder / Path(name).name).write_bytes(content)
        told = self._told(self._folder / LEDGER, self._heads[cut.acknowledged :][:2])
        if told == "kept" and cut.acknowledged >= BACKUP_AT:
            copy = self._told(self._folder / COPY, [self._heads[BACKUP_AT]])
            return told if copy == "kept" else f"backup {copy}"
        return told

    def _told(self, path: Path, may_be: list[Head]) -> str:
        if not path.exists():
            return "kept" if may_be[0] == NOTHING else "lost"
        try:
            found = head_of(path)
        except LogbookError:
            return "does not open"
        if found not in may_be:
            return "lost"
        return "kept" if self._verifies(path) else "does not verify"

    def _verifies(self, path: Path) -> bool:
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        if digest not in self._verified:
            self._verified[digest] = not verify(path).findings
        return self._verified[digest]


def judged(recording: Recording, states: int, chance: random.Random, folder: Path) -> Counter[str]:
    folder.mkdir()
    judge = Judge(folder, recording)
    return Counter(judge.judge(cut) for cut in cuts(recording, states, chance))


def test_no_power_cut_loses_what_was_told_as_saved(
    clinic: Path, size: str, chance: random.Random, report: Callable[[str], None],
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
) -> None:  # fmt: skip
    recording = recorded(Place(clinic / "clinic"), WORK, AS_IT_IS, monkeypatch)
    seen = judged(recording, STATES[size], chance, tmp_path / "after")
    report(f"power cut: {seen.total()} states of {len(recording.events)} calls: {dict(seen)}")
    assert seen == {"kept": STATES[size]}


def test_the_same_power_cuts_find_losses_where_nothing_is_synced(
    clinic: Path, size: str, chance: random.Random, report: Callable[[str], None],
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
) -> None:  # fmt: skip
    """Otherwise the test above might see nothing at all."""
    recording = recorded(Place(clinic / "clinic"), WORK, OFF, monkeypatch)
    states = max(100, STATES[size] // 10)
    seen = judged(recording, states, chance, tmp_path / "after")
    report(f"power cut, nothing synced: {states} states: {dict(seen)}")
    assert seen["lost"] > 0
    assert seen["kept"] < states


def test_a_ledger_that_was_founded_is_there_after_a_power_cut(
    clinic: Path, size: str, chance: random.Random, report: Callable[[str], None],
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
) -> None:  # fmt: skip
    recording = recorded(Place(clinic / "empty"), FOUNDING, AS_IT_IS, monkeypatch)
    states = max(100, STATES[size] // 10)
    seen = judged(recording, states, chance, tmp_path / "after")
    report(f"power cut while founding: {states} states: {dict(seen)}")
    assert seen == {"kept": states}
