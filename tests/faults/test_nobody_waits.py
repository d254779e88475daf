"""While a ledger is open nothing is printed and nothing is asked: whoever reads slowly, or thinks,
would stop every writer, and with one writer waiting every reader."""

import fcntl
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
import pytest
from sqlalchemy import Connection

from logbook.answers import history
from logbook.checklists import builtin
from logbook.ledger import connect
from logbook.ledger.sqlite_file import SqliteFile
from logbook.recording.opening import reading, writing
from tests.cli.terminals import WALK, Terminal, posix, terminal
from tests.conftest import Ran
from tests.ledger.scribe import Scribe

__all__ = ["terminal"]
Run = Callable[..., Ran]


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was printed or asked while a ledger was open."""
    opened: list[SqliteFile] = []
    seen: list[str] = []
    transaction = SqliteFile.transaction

    @contextmanager
    def watched(self: SqliteFile, *, writes: bool) -> Iterator[Connection]:
        with transaction(self, writes=writes) as connection:
            opened.append(self)
            try:
                yield connection
            finally:
                opened.remove(self)

    def spied(name: str) -> Callable[..., Any]:
        original = getattr(click, name)

        def spy(*given: Any, **more: Any) -> Any:
            if opened:
                seen.append(f"{name} {given[:1]}")
            return original(*given, **more)

        return spy

    monkeypatch.setattr(SqliteFile, "transaction", watched)
    for name in ("echo", "prompt", "confirm"):
        monkeypatch.setattr(click, name, spied(name))
    return seen


READING = (
    "board", "board --json", "ready bay1", "ready bay1 --json", "due", "due --all --json",
    "history bay1", "history bay1 --json", "history iso1", "machine list", "machine show bay1",
    "vaporizer list", "checklist list", "checklist show daily", "rule list", "staff list",
    "checkpoint", "verify", "setup --weight 24kg", "case list", "service list",
    "audit --from 2026-03-02",
)  # fmt: skip
WRITING = (
    "note x", "staff add RT Robin", "machine add bay2 --serial M-2", "fault report bay1 leak",
    "case log bay1 --began 2026-03-02T08:10 --ran 1h35 --circuit adult --weight 24kg --dial 2",
    "case begin bay1", "absorbent change bay1", "agent fill iso1 --added 20ml",
    "oxygen read bay1 --cylinder 1800psi", "charcoal change bay1", "rebuild",
    "service plan iso1 overhaul --every P12M", "rule set leak-flow 150 --because ours",
    "check bay1 --answers answers.json", "import cases cases.csv",
    "import cases cases.csv --dry-run", "correct 5 --withdraw --because slip", "backup copy.ledger",
)  # fmt: skip


@pytest.fixture
def desk(bay1: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """The command line in a folder with the files that commands read."""
    monkeypatch.chdir(tmp_path)
    answers = {
        item.key: {"state": "not done", "reason": "no time"} for item in builtin("daily").items
    }
    Path("answers.json").write_text(json.dumps(answers))
    Path("cases.csv").write_text("machine,began,ran\nbay1,2026-02-02 08:00,1h\n")
    return bay1


@pytest.mark.parametrize("line", [*READING, *WRITING])
def test_nothing_is_printed_or_asked_while_the_ledger_is_open(
    desk: Run, waits: list[str], line: str
) -> None:
    ran = desk(*line.split())
    assert ran.code in (0, 3), ran
    assert waits == []


def test_a_warning_waits_until_the_ledger_is_closed(
    desk: Run, ledger: Path, waits: list[str]
) -> None:
    older = ledger.read_bytes()
    assert desk("note", "x").code == 0
    ledger.write_bytes(older)
    for line in ("due", "note y"):
        assert "This ledger is older" in desk(*line.split()).err
    assert waits == []


def test_what_is_printed_while_the_ledger_is_open_would_be_seen(
    ledger: Path, waits: list[str]
) -> None:
    with reading(ledger):
        click.echo("too early")
    assert waits == ["echo ('too early',)"]


@posix
def test_whoever_thinks_over_an_answer_stops_nobody(
    terminal: Callable[..., Terminal], bay1: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connect, "BUSY_TIMEOUT_MS", 200)
    walk = terminal(*WALK)
    walk.read_to(" > ")
    assert bay1("note", "somebody else's").code == 0


@pytest.mark.skipif(not hasattr(fcntl, "F_SETPIPE_SZ"), reason="Linux lets a pipe be made small")
def test_whoever_reads_the_answer_slowly_stops_nobody(
    bay1: Run, ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connect, "BUSY_TIMEOUT_MS", 200)
    with writing(ledger) as book:
        tell = Scribe(book)
        for number in range(60):
            tell("note", "2026-03-02 08:00", unit="bay1", text=f"{number} {'long ' * 30}")
    reads, writes = os.pipe()
    fcntl.fcntl(writes, fcntl.F_SETPIPE_SZ, 4096)
    command = [sys.executable, "-m", "logbook", "history", "bay1"]
    with subprocess.Popen(command, stdout=writes) as slow:
        os.close(writes)
        while slow.poll() is None and not _is_full(reads):
            time.sleep(0.02)
        assert slow.poll() is None, "the answer fitted the pipe"
        assert bay1("note", "somebody else's").code == 0
        with os.fdopen(reads, "rb") as rest:
            assert rest.read().count(b"long") > 1000
    assert slow.returncode == 0


def _is_full(pipe: int) -> bool:
    waiting = bytearray(4)
    fcntl.ioctl(pipe, 0x541B, waiting)  # FIONREAD: how many bytes wait to be read.
    return int.from_bytes(waiting, sys.byteorder) >= 4096


def test_a_whole_history_is_read_while_others_write(
    bay1: Run, ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connect, "BUSY_TIMEOUT_MS", 200)
    answer = history.history

    def slowly(*asked: Any) -> Any:
        found = answer(*asked)
        with writing(ledger) as book:
            Scribe(book)("note", "2026-03-02 08:00", unit="bay1", text="meanwhile")
        return found

    monkeypatch.setattr(history, "history", slowly)
    told = bay1("history", "bay1", "--all")
    assert (told.code, told.err) == (0, "")
    assert "meanwhile" not in told.out
    monkeypatch.setattr(history, "history", answer)
    assert "meanwhile" in bay1("history", "bay1", "--all").out
