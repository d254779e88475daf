"""A backup that nobody restored is a hope: each is restored elsewhere, and asked the same.

Backups are taken while another program writes without a pause. What a restored ledger answers is
held, byte for byte, against a ledger that was made of the same first entries and nothing else.
"""

import json
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from logbook.ledger.schema import GUARDS, guard_sql
from logbook.ledger.store import head, ledger_uuid, read_entry
from logbook.projections.project import rebuild
from logbook.proof.seen import Memory
from logbook.proof.verify import verify
from logbook.recording.opening import reading, writing
from tests.conftest import Ran

BACKUPS = {"quick": 5, "ci": 50, "full": 60}
QUESTIONS = (
    ("due", "--json", "--all", "--as-of", "2026-03-06"),
    ("history", "bay1", "--json"),
    ("history", "iso1", "--json"),
)
WRITER = """
import sys, time
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from logbook.recording.opening import writing
from tests.ledger.scribe import Scribe
path, stop = map(Path, sys.argv[1:])
began = datetime(2026, 1, 5, 15, 0, tzinfo=UTC)
for number in count():
    if stop.exists():
        break
    at = began + timedelta(hours=number)
    with writing(path) as book:
        tell = Scribe(book)
        ended = at + timedelta(minutes=40)
        case = tell("case", at, machine="bay1", ended_at=ended, circuit="adult rebreathing",
                    vaporizer="iso1", segments=({"flow_ml_min": "1000", "dial_percent": "2"},))
        if number % 7 == 0:
            tell("absorbent_change", at, machine="bay1", mass_g="1200")
        if number % 5 == 0:
            tell("agent_fill", at, vaporizer="iso1", added_ml="50")
        if number % 11 == 0:
            tell.withdraw(case)
    print(number, flush=True)
    time.sleep(0.005)
"""


def prefix(ledger: Path, entries: int, path: Path) -> Path:
    """The ledger as it was after so many entries, made by taking the others away."""
    shutil.copy(ledger, path)
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        for name in GUARDS:
            raw.execute(f"DROP TRIGGER {name}")
        raw.execute("DELETE FROM entry WHERE seq > ?", (entries,))
        for name in GUARDS:
            raw.execute(guard_sql(name))
    with writing(path) as book:
        rebuild(book.connection)
    return path


@pytest.fixture
def backups(bay1: Callable[..., Ran], ledger: Path, size: str, tmp_path: Path) -> dict[Path, int]:
    """Backups taken during writes, each with the number of entries that it said it holds."""
    stop = tmp_path / "stop"
    taken = {}
    command = [sys.executable, "-c", WRITER, str(ledger), str(stop)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "0\n"
        for number in range(BACKUPS[size]):
            target = tmp_path / f"backup-{number}.ledger"
            ran = bay1("backup", str(target))
            assert ran.code == 0, ran
            taken[target] = int(ran.out.split("entries: ")[1].split()[0])
        stop.touch()
        writer.communicate()
    assert writer.returncode == 0
    return taken


def but_checkpoint(answer: str) -> str:
    """An answer without where the ledger stands: the restore itself is one entry more."""
    told = json.loads(answer)
    told.pop("checkpoint", None)
    return json.dumps(told)


def test_every_backup_taken_during_writes_answers_as_the_ledger_did(
    backups: dict[Path, int], bay1: Callable[..., Ran], ledger: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, report: Callable[[str], None],
) -> None:  # fmt: skip
    with reading(ledger) as book:
        uuid, (count, last) = ledger_uuid(book.connection), head(book.connection)
    assert len(set(backups.values())) > len(backups) // 2, "nothing was written meanwhile"
    assert max(backups.values()) <= count
    for number, (backup, entries) in enumerate(backups.items()):
        expected = prefix(ledger, entries, tmp_path / "prefix.ledger")
        restored = tmp_path / f"elsewhere-{number}" / "clinic.ledger"
        restored.parent.mkdir()
        monkeypatch.setenv("XDG_CONFIG_HOME", str(restored.parent))
        memory = Memory(restored.parent / "gas-machine-logbook" / "seen")
        memory.remember(uuid, count, last)
        where = ("--ledger", str(restored))
        plan = bay1(*where, "restore", str(backup))
        assert not restored.exists()
        done = bay1(*where, "restore", str(backup), "--go", "--because", "drill")
        lost = "1 entry" if count - entries == 1 else f"{count - entries} entries"
        assert (plan.code, done.code) == (0, 0), (plan, done)
        assert f"Lost by it: {lost}." in plan.out
        assert f"Lost by it: {lost}." in done.out
        for question in QUESTIONS:
            wanted = bay1("--ledger", str(expected), *question)
            assert bay1("--ledger", str(backup), *question).out == wanted.out
            answer = bay1(*where, *question)
            assert answer.err == ""  # This computer knows of the gap, and is quiet about it.
            assert but_checkpoint(answer.out) == but_checkpoint(wanted.out)
        with reading(restored) as book:
            declared = read_entry(book.connection, entries + 1)
        assert declared is not None
        told = (declared.kind, declared.body.from_entries, declared.body.lost_entries)
        assert told == ("restore", entries, count - entries)
        assert declared.body.lost_head == (last if count > entries else None)
        assert not verify(restored).findings
        expected.unlink()
    report(f"restore drill: {len(backups)} backups of {count} entries, all answer alike")


def test_a_restore_in_place_keeps_the_file_that_stood_there(
    bay1: Callable[..., Ran], ledger: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.ledger"
    assert bay1("backup", str(copy)).code == 0
    assert bay1("note", "newer").code == 0
    newer = ledger.read_bytes()
    done = bay1("restore", str(copy), "--go", "--because", "drill")
    assert "Lost by it: 1 entry." in done.out
    (aside,) = ledger.parent.glob("clinic.ledger.replaced-*")
    assert aside.read_bytes() == newer
    assert bay1("due").err == ""
    assert bay1("verify").code == 0
