"""The promises that version 0.1.0 broke, each tried from outside, as whole processes.

``LOGBOOK_PROGRAM`` names the program of another version: every test here fails with that of 0.1.0.
The families beside this file try the same at every call and in every way; this one shows that each
was broken, and holds.
"""

import json
import os
import shlex
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.faults.conftest import traces
from tests.faults.forger import forge
from tests.tools import PATIENCE_S, waited

__all__ = ["traces"]
PROGRAM = shlex.split(os.environ.get("LOGBOOK_PROGRAM") or f"{sys.executable} -m logbook")
FOUNDING = (
    ("new", "Alder Creek", "--timezone", "America/Denver"),
    ("staff", "add", "KO", "Day lead"),
    ("machine", "add", "bay1", "--serial", "M-1001"),
    ("vaporizer", "add", "iso1", "--agent", "isoflurane", "--capacity", "250ml", "--fit", "bay1"),
)  # fmt: skip
AT = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)


class Desk:
    """A folder with a ledger, and the program that is tried there."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.ledger = folder, folder / "clinic.ledger"
        self.journal = folder / "clinic.ledger-journal"

    def environment(self) -> dict[str, str]:
        """What surrounds the program: a home of its own, and who signs."""
        own = {"HOME": str(self.folder), "XDG_CONFIG_HOME": str(self.folder / "config")}
        named = {"LOGBOOK_LEDGER": str(self.ledger), "LOGBOOK_BY": "KO"}
        return {"PATH": os.environ["PATH"], "LANG": "C.UTF-8", **own, **named}

    def begin(self, *words: str, before: tuple[str, ...] = (), **more: Any) -> "subprocess.Popen":
        """Start a command, under a program ``before`` it where one is told."""
        told = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "stdin": subprocess.DEVNULL}
        told |= {"cwd": self.folder, "env": self.environment(), "text": True}
        return subprocess.Popen([*before, *PROGRAM, *words], **(told | more))

    def run(self, *words: str, before: tuple[str, ...] = (), **more: Any) -> tuple[int, str, str]:
        """A command from its begin to its end: exit code, output, errors."""
        with self.begin(*words, before=before, **more) as process:
            out, err = process.communicate(timeout=PATIENCE_S)
        return process.returncode, out or "", err or ""

    def texts(self, kind: str) -> list[dict[str, Any]]:
        """The bodies of the entries of a kind."""
        with closing(sqlite3.connect(self.ledger)) as raw:
            rows = raw.execute("SELECT body FROM entry WHERE kind = ? ORDER BY seq", (kind,))
            return [json.loads(body) for (body,) in rows]


def faulty(*faults: str, on: Path | None = None) -> tuple[str, ...]:
    """What stands before a command of which some calls shall fail, wait or bring a signal, all
    of them or those ``on`` one file."""
    place = ("-P", str(on)) if on else ()
    injected = [word for one in faults for word in ("-e", f"inject={one}")]
    names = ",".join(one.split(":")[0] for one in faults)
    return ("strace", "-f", "-qq", "-o", os.devnull, "-e", f"trace={names}", *place, *injected)


HALF_WRITTEN = "pwrite64:signal=SIGKILL:when=3"
GOES = "?unlink,?unlinkat:signal="


@pytest.fixture(scope="module")
def founded_by_it(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A clinic that the program itself founded; made once."""
    desk = Desk(tmp_path_factory.mktemp("founded"))
    for words in FOUNDING:
        code, _, err = desk.run(*words)
        assert (code, err) == (0, ""), words
    return desk.folder


@pytest.fixture
def desk(founded_by_it: Path, tmp_path: Path) -> Desk:
    """A copy of that clinic."""
    return Desk(Path(shutil.copytree(founded_by_it, tmp_path / "desk")))


def objects(raw: sqlite3.Connection, where: str) -> list[str]:
    """Statements that make what the file's schema holds."""
    rows = raw.execute(f"SELECT sql FROM sqlite_master WHERE sql NOT NULL AND {where}")  # noqa: S608
    return [sql for (sql,) in rows]


def test_a_trigger_under_a_tables_name_swallows_no_entry_that_is_told_as_saved(desk: Desk) -> None:
    with closing(sqlite3.connect(desk.ledger)) as raw:
        remade = objects(raw, "tbl_name = 'charcoal' ORDER BY type DESC")
        raw.execute("DROP TABLE charcoal")
        raw.execute(
            "CREATE TRIGGER \"charcoal\" BEFORE INSERT ON entry WHEN NEW.kind = 'fault' "
            "BEGIN SELECT RAISE(IGNORE); END"
        )
        for statement in remade:
            raw.execute(statement)
    code, out, _ = desk.run("fault", "report", "bay1", "it leaks")
    assert desk.texts("fault") or (code != 0 and "Saved" not in out)
    assert desk.run("verify")[0] == 4


def test_a_guard_that_says_its_refusal_in_quotes_is_seen(desk: Desk) -> None:
    with closing(sqlite3.connect(desk.ledger)) as raw:
        (guard,) = objects(raw, "type = 'trigger' AND sql LIKE '%BEFORE DELETE ON entry%'")
        (name,) = raw.execute("SELECT name FROM sqlite_master WHERE sql = ?", (guard,)).fetchone()
        at, end = guard.index("RAISE("), guard.rindex(")") + 1
        raw.execute(f'DROP TRIGGER "{name}"')
        raw.execute(f'{guard[:at]}"{guard[at:end]}"{guard[end:]}')
    assert desk.run("verify")[0] == 4


def test_a_new_ledger_does_not_replace_one_that_came_into_being_after_its_look(
    tmp_path: Path, traces: None
) -> None:
    desk, calls = Desk(tmp_path), tmp_path / "calls"
    looks = "stat,lstat,newfstatat"
    stopped = ("strace", "-f", "-qq", "-o", str(calls), "-P", str(desk.ledger),
               "-e", f"inject={looks}:signal=SIGSTOP:when=2")  # fmt: skip
    with desk.begin(*FOUNDING[0], before=stopped) as slow:
        waited(lambda: calls.exists() and "stopped by SIGSTOP" in calls.read_text())
        quick = desk.run("new", "Birch Lane", "--timezone", "America/Denver")
        os.kill(int(calls.read_text().split()[0]), signal.SIGCONT)
        slow.communicate(timeout=PATIENCE_S)
    assert (quick[0], slow.returncode) == (0, 2)
    assert [one["name"] for one in desk.texts("clinic")] == ["Birch Lane"]


def test_ctrl_c_as_the_journal_goes_never_says_that_nothing_was_saved(
    desk: Desk, traces: None
) -> None:
    _, out, err = desk.run("note", "squeaks", before=faulty(GOES + "SIGINT", on=desk.journal))
    assert desk.texts("note")
    assert "Saved" in out, err


def test_a_backup_that_was_made_is_not_told_as_not_saved_where_output_is_full(desk: Desk) -> None:
    with open("/dev/full", "w") as full:
        code, _, err = desk.run("backup", "copy.ledger", stdout=full)
    assert (desk.folder / "copy.ledger").exists()
    assert code == 1
    assert "could not be shown" in err


def test_verify_does_not_pass_over_what_another_program_keeps_in_a_wal_file(desk: Desk) -> None:
    with closing(sqlite3.connect(desk.ledger)) as raw:
        raw.execute("PRAGMA journal_mode = WAL")
        raw.execute("CREATE TABLE another (a)")
        assert desk.run("verify")[0] == 4


def test_another_ledger_under_the_same_name_is_told(desk: Desk, tmp_path: Path) -> None:
    assert desk.run("note", "known here")[2] == ""
    other = Desk(tmp_path / "other")
    other.folder.mkdir()
    for words in FOUNDING:
        assert other.run(*words)[0] == 0
    os.replace(other.ledger, desk.ledger)
    assert "another" in desk.run("due")[2]


def test_an_entry_put_in_by_hand_under_a_signer_who_was_never_there_is_remarked(desk: Desk) -> None:
    forge(desk.ledger, "note", AT, {"text": "all well"}, by="ZZ")
    assert desk.run("rebuild")[0] == 0
    assert "ZZ" in desk.run("verify")[1]


def test_a_correction_of_an_entry_that_is_not_there_yet_is_found(desk: Desk) -> None:
    forge(desk.ledger, "correction", AT, {"corrects": 99, "withdrawn": True, "reason": "x"})
    desk.run("rebuild")
    code, out, err = desk.run("verify")
    assert (code, err) == (4, ""), out


def test_after_a_crash_verify_through_a_link_reports_no_damage(desk: Desk, traces: None) -> None:
    code, *_ = desk.run("note", "x", before=faulty(HALF_WRITTEN, on=desk.ledger))
    assert code < 0
    assert desk.journal.exists()
    (desk.folder / "link.ledger").symlink_to(desk.ledger)
    assert desk.run("--ledger", "link.ledger", "verify")[0] == 0


def test_the_same_fill_typed_three_times_where_nobody_reads_on_is_three_fills(desk: Desk) -> None:
    for _ in range(3):
        with desk.begin("agent", "fill", "iso1", "--added", "9ml") as process:
            process.stdout.close()
            process.stdout = None
            process.communicate(timeout=PATIENCE_S)
    assert len(desk.texts("agent_fill")) == 3


def test_a_closed_output_raises_nothing(desk: Desk) -> None:
    closed = ("sh", "-c", 'exec "$@" >&-', "sh")
    _, _, err = desk.run("note", "squeaks", before=closed)
    assert "Traceback" not in err


def test_a_backup_on_a_disk_without_links_has_its_name_only_when_it_is_whole(
    desk: Desk, traces: None
) -> None:
    killed = faulty("?link,?linkat:error=EPERM", "?rename,?renameat,?renameat2:signal=SIGKILL")
    code, *_ = desk.run("backup", "copy.ledger", before=killed)
    assert code < 0
    copy = desk.folder / "copy.ledger"
    assert not copy.exists() or copy.stat().st_size


def test_a_file_of_the_users_beside_a_new_ledger_stays(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    theirs = tmp_path / "clinic.ledger.new"
    theirs.write_text("mine")
    desk.run(*FOUNDING[0])
    assert theirs.exists()


def test_a_path_is_shown_without_what_would_command_the_terminal(desk: Desk) -> None:
    _, out, err = desk.run("--ledger", "odd\x1b]0;mine\x07.ledger", "due")
    assert "\x1b" not in out + err


def test_a_ledger_and_its_backup_are_their_owners_alone(desk: Desk) -> None:
    assert desk.run("backup", "copy.ledger")[0] == 0
    for name in ("clinic.ledger", "copy.ledger"):
        assert (desk.folder / name).stat().st_mode & 0o077 == 0, name


def test_who_stands_still_in_the_midst_of_a_long_history_keeps_nobody_from_writing(
    desk: Desk, traces: None
) -> None:
    for number in range(40):
        forge(desk.ledger, "note", AT, {"text": f"{number} squeaks" * 40, "unit": "bay1"})
    assert desk.run("rebuild")[0] == 0
    # The first release told all without being asked; it read this ledger in 21 steps.
    told_all = "--all" in desk.run("history", "--help")[1]
    words = ("history", "bay1", *(("--all",) if told_all else ()))
    stopped = faulty("pread64:signal=SIGSTOP:when=15", on=desk.ledger)
    with desk.begin(*words, before=stopped) as slow:
        try:
            waited(lambda: slow.poll() is not None or still(slow.pid))
            assert desk.run("note", "meanwhile")[0] == 0
        finally:
            for one in traced(slow.pid):
                os.kill(one, signal.SIGKILL)


def traced(tracer: int) -> list[int]:
    """The program that is traced, while it lives."""
    children = Path(f"/proc/{tracer}/task/{tracer}/children")
    return [*map(int, children.read_text().split())] if children.exists() else []


def still(tracer: int) -> bool:
    """Whether the program that is traced stands still for good, not for the moment of a call."""
    for _ in range(20):
        states = [Path(f"/proc/{one}/stat").read_text().split()[2] for one in traced(tracer)]
        if not states or states[0] not in "tT":
            return False
        time.sleep(0.01)
    return True
