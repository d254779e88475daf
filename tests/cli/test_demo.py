"""`logbook demo`: an invented clinic in a file of its own, and nothing else touched."""

import json
import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from logbook.errors import InputError
from logbook.recording.demo import build_demo
from logbook.shipped import folder
from tests.conftest import Ran

Command = Callable[..., Ran]
MONDAY = datetime(2026, 3, 9, 15, 0, tzinfo=UTC)
"""The clock of these tests stands after the demo's last Friday."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's ledger, built once."""
    path = tmp_path_factory.mktemp("made") / "demo.ledger"
    build_demo(path, folder("sample_data"))
    return path


@pytest.fixture
def demo(
    run_logbook: Command, clock: Callable[[datetime], None], monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> Command:  # fmt: skip
    """The command line of somebody with a ledger, a home and a folder for temporary files."""
    clock(MONDAY)
    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "temporary"))
    monkeypatch.setattr("click.get_app_dir", lambda name: str(tmp_path / "home" / name))
    return run_logbook


def content(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table."""
    with closing(sqlite3.connect(path)) as raw:
        names = [n for (n,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: sorted(raw.execute(f'SELECT * FROM "{name}"'), key=str) for name in names}  # noqa: S608


def test_the_demo_shows_the_board_and_the_list_and_says_where_it_lies(
    demo: Command, ledger: Path, tmp_path: Path
) -> None:
    before = ledger.read_bytes()
    ran = demo("demo")
    assert (ran.code, ran.err) == (0, "")
    assert not (tmp_path / "home").exists()
    [path] = (tmp_path / "temporary").rglob("demo.ledger")
    assert "\nFriday 2026-03-06\nbay2 (surgery 2): NOT READY" in ran.out  # The worst stands first.
    assert "\nDue as of Friday 2026-03-06" in ran.out
    assert f"The demo's ledger is {path}." in ran.out
    commands = [line.split() for line in ran.out.splitlines() if line.startswith("  logbook ")]
    assert len(commands) == 2
    for _, *arguments in commands:
        tried = demo(*arguments)
        assert (tried.code in (0, 3), tried.err) == (True, "")
    assert ledger.read_bytes() == before


@pytest.mark.parametrize("name", ["demo.ledger", "demo.ledger-journal", "demo.ledger.new"])
def test_the_demo_replaces_no_file(demo: Command, tmp_path: Path, name: str) -> None:
    there = tmp_path / "temporary" / name
    there.write_text("mine")
    ran = demo("demo", str(there.parent))
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(f"Not done, nothing saved: {there} exists already")
    assert there.read_text() == "mine"
    assert list(there.parent.iterdir()) == [there]


def test_the_demo_makes_the_folder_that_it_is_told(demo: Command, tmp_path: Path) -> None:
    assert demo("demo", str(tmp_path / "new" / "folder")).code == 0
    assert (tmp_path / "new" / "folder" / "demo.ledger").is_file()


def test_rebuilding_the_demo_gives_the_same_content(
    made: Path, demo: Command, tmp_path: Path
) -> None:
    copy = Path(shutil.copy(made, tmp_path / "copy.ledger"))
    before = content(copy)
    assert len(before["entry"]) > 800
    assert demo("--ledger", str(copy), "rebuild").code == 0
    assert content(copy) == before


def test_entries_are_recorded_when_they_happened_but_for_a_few_that_were_late(made: Path) -> None:
    with closing(sqlite3.connect(made)) as raw:
        rows = raw.execute("SELECT recorded_at, happened_at, kind, body FROM entry ORDER BY seq")
        entries = rows.fetchall()
    recorded = [row[0] for row in entries]
    assert recorded == sorted(recorded)
    late = []
    for recorded_at, happened_at, kind, body in entries:
        told = json.loads(body)
        if recorded_at != told.get("ended_at", happened_at):
            late.append((kind, told["machine"], recorded_at))
    assert late == [
        ("case", "bay2", "2026-01-23T14:40:00Z"),
        ("case", "exotics", "2026-02-10T00:20:00Z"),
        ("check", "dental", "2026-02-18T14:20:00Z"),
        ("case", "bay3", "2026-02-28T01:10:00Z"),
    ]


@pytest.mark.parametrize(
    ("name", "line", "sentence"),
    [
        (
            "events.jsonl",
            {"kind": "note", "at": "2026-03-06 12:00", "by": "KO", "text": "x", "unit": "bay9"},
            "line 1 of events.jsonl: there is no unit bay9",
        ),
        (
            "events.jsonl",
            {"kind": "return_to_service", "at": "2026-03-06 12:00", "by": "KO", "unit": "bay3",
             "evidence": "nowhere"},
            "line 1 of events.jsonl: 'nowhere'",
        ),
        ("services.csv", "bay1,service,2026-03-06,passed,,,ZZ", "services.csv, row 8: nobody here"),
    ],
)  # fmt: skip
def test_files_that_do_not_fit_together_are_refused_and_leave_no_ledger(
    tmp_path: Path, name: str, line: Any, sentence: str
) -> None:
    source = Path(shutil.copytree(folder("sample_data"), tmp_path / "source"))
    kept = (source / name).read_text("utf-8") if isinstance(line, str) else ""
    text = line if isinstance(line, str) else json.dumps(line)
    (source / name).write_text(kept + text, encoding="utf-8")
    with pytest.raises(InputError, match=sentence):
        build_demo(tmp_path / "demo.ledger", source)
    assert os.listdir(tmp_path) == ["source"]


def test_the_sample_holds_data_only_and_little_of_it() -> None:
    files = sorted(folder("sample_data").iterdir())
    assert [file.name for file in files] == [
        "cases.csv",
        "changes.csv",
        "clinic.toml",
        "events.jsonl",
        "pictures",
        "services.csv",
    ]
    assert sum(file.stat().st_size for file in files) < 300_000


def test_a_folder_that_was_installed_is_preferred_to_the_checkout(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "site" / "logbook"
    package.mkdir(parents=True)
    monkeypatch.setattr("importlib.resources.files", lambda _name: package)
    assert folder("sample_data") == tmp_path / "site" / "sample_data"
    (package / "sample_data").mkdir()
    assert folder("sample_data") == package / "sample_data"
