"""What lies beside the ledger, or bears another name of it, is never taken for its own, lost, or
followed; and what commands leave in passing is nobody else's to read."""

import errno
import os
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from logbook.ledger import copying, disk, upgrade
from logbook.ledger.disk import private_file, side_files
from logbook.ledger.store import head
from logbook.proof.verify import verify
from logbook.recording.opening import reading
from tests.conftest import Ran

Run = Callable[..., Ran]
NEW = ("new", "Alder Creek", "--timezone", "America/Denver")
RESTORE = ("--go", "--because", "disk died")

# Another program's way of writing (WAL)

SWITCH = """
import os, sqlite3, sys
raw = sqlite3.connect(sys.argv[1], isolation_level=None)
raw.execute("PRAGMA journal_mode = wal")
raw.execute("INSERT INTO note VALUES (99, 0, NULL, 'nobody recorded this')")
print("written", flush=True)
sys.stdin.read() if sys.argv[2] == "open" else None
raw.close() if sys.argv[2] == "closed" else os._exit(9)
"""
READING = (("due",), ("history", "bay1"), ("checkpoint",), ("board",))
WRITING = (("note", "x"), ("rebuild",), ("machine", "retire", "bay1", "--because", "sold"))


@pytest.fixture(params=["open", "killed"])
def switched(request: pytest.FixtureRequest, bay1: Run, ledger: Path) -> Iterator[Run]:
    """The command line at a ledger that another program writes in its own way, or did when it was
    killed; its last change stands beside the file."""
    command = [sys.executable, "-c", SWITCH, str(ledger), request.param]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "written\n"
        if request.param == "killed":
            other.wait()
        yield bay1
        other.communicate()


@pytest.mark.parametrize("words", [*READING, *WRITING, ("backup", "copy.ledger")], ids=" ".join)
def test_a_ledger_with_entries_in_another_programs_file_is_refused_and_left_alone(
    switched: Run, ledger: Path, words: tuple[str, ...], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    before = ledger.read_bytes()
    ran = switched(*words)
    assert (ran.code, ran.out) == (4, "")
    wal = side_files(ledger)[1]
    assert f"{wal} was left by another program and would change the ledger" in ran.err
    assert ledger.read_bytes() == before
    assert wal.stat().st_size
    assert not list(tmp_path.glob("**/copy.ledger*"))


def test_verify_tells_of_entries_in_another_programs_file(switched: Run, ledger: Path) -> None:
    ran = switched("verify")
    assert ran.code == 4
    assert "NOT VERIFIED: file: " in ran.out
    assert "was left by another program" in ran.out


@pytest.mark.parametrize("words", [*READING, *WRITING], ids=" ".join)
def test_a_ledger_that_another_program_switched_and_closed_is_taken_back(
    bay1: Run, ledger: Path, words: tuple[str, ...]
) -> None:
    with closing(sqlite3.connect(ledger)) as raw:
        assert raw.execute("PRAGMA journal_mode = wal").fetchone() == ("wal",)
    assert ledger.read_bytes()[18:20] == b"\2\2"
    assert bay1("verify").code == 0
    ran = bay1(*words)
    assert ran.code in (0, 3), ran
    assert ran.err == ""
    assert ledger.read_bytes()[18:20] == b"\1\1"
    assert not any(one.exists() for one in side_files(ledger))


def test_a_program_that_only_has_the_ledger_open_in_its_own_way_is_told_of(
    bay1: Run, ledger: Path
) -> None:
    before = head_of(ledger)
    with closing(sqlite3.connect(ledger, isolation_level=None)) as other:
        other.execute("PRAGMA journal_mode = wal")
        other.execute("SELECT count(*) FROM entry").fetchone()
        for words in (("due",), ("note", "x")):
            ran = bay1(*words)
            assert (ran.code, ran.out) == (5, "")
            assert "is open in another program" in ran.err
            assert "close that program, then try again" in ran.err
    assert bay1("due").code == 3
    assert head_of(ledger) == before


def head_of(path: Path) -> tuple[int, str]:
    with reading(path) as book:
        return head(book.connection)


@pytest.fixture
def stale(bay1: Run, ledger: Path, tmp_path: Path) -> bytes:
    """What another program's file holds of a ledger that is no longer there."""
    other = tmp_path / "other.ledger"
    shutil.copy(ledger, other)
    subprocess.run([sys.executable, "-c", SWITCH, str(other), "killed"], check=False)
    return side_files(other)[1].read_bytes()


@pytest.mark.parametrize("gone", [True, False])
def test_what_was_left_beside_the_old_file_is_not_played_into_a_restored_one(
    bay1: Run, ledger: Path, tmp_path: Path, stale: bytes, gone: bool
) -> None:
    assert bay1("backup", str(tmp_path / "copy.ledger")).code == 0
    if gone:
        ledger.unlink()
    for side in side_files(ledger)[1:]:
        side.write_bytes(stale)
    assert bay1("restore", str(tmp_path / "copy.ledger"), *RESTORE).code == 0
    assert not any(one.exists() for one in side_files(ledger))
    for text in ("a", "b"):
        assert bay1("note", text).code == 0
    assert verify(ledger).findings == []
    with closing(sqlite3.connect(ledger)) as raw:
        texts = raw.execute("SELECT text FROM note ORDER BY entry").fetchall()
    assert texts == [("a",), ("b",)]


def test_a_new_ledger_is_not_put_beside_what_another_left(
    run_logbook: Run, tmp_path: Path, stale: bytes
) -> None:
    path = tmp_path / "fresh.ledger"
    for side in side_files(path):
        side.write_bytes(stale)
        ran = run_logbook("--ledger", str(path), *NEW)
        assert (ran.code, ran.out) == (2, "")
        assert f"{side} is what a crash left of another ledger" in ran.err
        assert side.read_bytes() == stale
        side.unlink()


def test_a_backup_with_another_programs_file_beside_it_is_not_restored(
    bay1: Run, ledger: Path, tmp_path: Path, stale: bytes
) -> None:
    copy = tmp_path / "copy.ledger"
    assert bay1("backup", str(copy)).code == 0
    side_files(copy)[1].write_bytes(stale)
    before = ledger.read_bytes()
    for more in ((), RESTORE):
        ran = bay1("restore", str(copy), *more)
        assert (ran.code, ran.out) == (4, "")
        assert "copy.ledger-wal was left by another program" in ran.err
    assert ledger.read_bytes() == before


# Names


CRASH = """
import os, sqlite3, sys
raw = sqlite3.connect(sys.argv[1], isolation_level=None)
raw.execute("PRAGMA cache_size = 1")
raw.execute("BEGIN IMMEDIATE")
raw.execute("DROP TABLE note")
raw.executemany("INSERT INTO person VALUES (?, ?)", [(str(n), "x" * 900) for n in range(500)])
os._exit(9)
"""


def crash(path: Path) -> None:
    subprocess.run([sys.executable, "-c", CRASH, str(path)], check=False)


@pytest.fixture
def link(ledger: Path, tmp_path: Path) -> Path:
    """Another name that leads to the ledger, in another folder."""
    (tmp_path / "elsewhere").mkdir()
    link = tmp_path / "elsewhere" / "link.ledger"
    link.symlink_to(ledger)
    return link


def test_after_a_crash_the_ledger_is_whole_through_a_link(
    bay1: Run, ledger: Path, link: Path
) -> None:
    crash(link)
    assert side_files(ledger)[0].stat().st_size
    assert bay1("--ledger", str(link), "verify").code == 0
    assert bay1("--ledger", str(link), "due").code == 3
    assert not side_files(ledger)[0].exists()


def test_a_restore_through_a_link_replaces_the_ledger_and_leaves_the_link(
    bay1: Run, ledger: Path, link: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.ledger"
    assert bay1("--ledger", str(link), "backup", str(copy)).code == 0
    assert bay1("note", "lost").code == 0
    newer = ledger.read_bytes()
    assert bay1("--ledger", str(link), "restore", str(copy), *RESTORE).code == 0
    assert link.is_symlink()
    assert head_of(link) == head_of(ledger)
    (aside,) = ledger.parent.glob("clinic.ledger.replaced-*")
    assert aside.read_bytes() == newer
    assert [one.name for one in link.parent.iterdir()] == [link.name]


@pytest.mark.parametrize("words", [*READING, *WRITING, ("backup", "copy.ledger")], ids=" ".join)
def test_a_ledger_with_two_names_is_opened_under_neither(
    bay1: Run, ledger: Path, tmp_path: Path, words: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """What a crash leaves under one name would be missed under the other."""
    monkeypatch.chdir(tmp_path)
    second = tmp_path / "second.ledger"
    os.link(ledger, second)
    before = ledger.read_bytes()
    for name in (ledger, second):
        ran = bay1("--ledger", str(name), *words)
        assert (ran.code, ran.out) == (4, "")
        assert f"{name} has a second name (a hard link)" in ran.err
        assert bay1("--ledger", str(name), "verify").code == 4
    assert ledger.read_bytes() == before
    second.unlink()
    assert bay1(*words).code in (0, 3)


def test_a_restore_does_not_split_a_ledger_with_two_names(
    bay1: Run, ledger: Path, tmp_path: Path
) -> None:
    copy, second = tmp_path / "copy.ledger", tmp_path / "second.ledger"
    assert bay1("backup", str(copy)).code == 0
    os.link(ledger, second)
    ran = bay1("restore", str(copy), *RESTORE)
    assert (ran.code, ran.out) == (4, "")
    assert ledger.samefile(second)


SIDE_NAMES = ["clinic.ledger-journal", "clinic.ledger-wal", "other-shm", "OTHER-JOURNAL"]


@pytest.mark.parametrize("name", SIDE_NAMES)
@pytest.mark.parametrize("command", ["backup", "new", "checkpoint"])
def test_no_file_is_made_that_would_be_taken_for_a_part_of_a_ledger(
    bay1: Run, ledger: Path, name: str, command: str
) -> None:
    path = str(ledger.with_name(name))
    words = {
        "backup": ("backup", path),
        "new": ("--ledger", path, *NEW),
        "checkpoint": ("checkpoint", "--to", path),
    }
    ran = bay1(*words[command])
    assert (ran.code, ran.out) == (2, "")
    assert "by which a ledger's file is put right after a crash" in ran.err
    assert not Path(path).exists()
    assert bay1("verify").code == 0


@pytest.mark.parametrize("end", [".new", ".part", ".restoring", ".tmp"])
def test_no_command_takes_away_a_file_of_the_users_own(
    bay1: Run, ledger: Path, tmp_path: Path, end: str
) -> None:
    mine = [ledger.with_name(name + end) for name in ("clinic.ledger", "copy.ledger", "x.ledger")]
    assert bay1("backup", str(mine[0])).code == 0
    for other in mine[1:]:
        other.write_text("mine")
    assert bay1("restore", str(mine[0]), *RESTORE).code == 0
    assert bay1("backup", str(ledger.with_name("copy.ledger"))).code == 0
    assert bay1("--ledger", str(ledger.with_name("x.ledger")), *NEW).code == 0
    assert [one.read_bytes() for one in mine[1:]] == [b"mine"] * 2
    assert verify(mine[0]).findings == []


def test_a_folder_of_the_users_own_under_our_name_in_passing_is_left_alone(
    bay1: Run, ledger: Path
) -> None:
    mine = ledger.with_name(".copy.ledger.part-1")
    mine.mkdir()
    (mine / "letter.txt").write_text("mine")
    assert bay1("backup", str(ledger.with_name("copy.ledger"))).code == 0
    assert (mine / "letter.txt").read_text() == "mine"


@pytest.mark.parametrize("kind", ["new", "backup", "checkpoint"])
def test_a_link_that_somebody_planted_is_not_written_through(
    bay1: Run, ledger: Path, tmp_path: Path, kind: str
) -> None:
    aim, planted = tmp_path / "aim", tmp_path / "planted"
    planted.symlink_to(aim)
    words = {
        "new": ("--ledger", str(planted), *NEW),
        "backup": ("backup", str(planted)),
        "checkpoint": ("checkpoint", "--to", str(planted)),
    }
    ran = bay1(*words[kind])
    assert (ran.code, ran.out) == (2, "")
    assert "exists already" in ran.err
    assert not aim.exists()


@pytest.mark.parametrize("links", [True, False])
def test_a_name_that_is_taken_at_the_last_moment_is_not_replaced(
    bay1: Run, ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    """Two who found the name free: the second one to be whole is told so."""
    target = tmp_path / "target.ledger"
    take_name = disk.take_name

    def after_another(part: Path, name: Path) -> None:
        name.write_text("another's")
        take_name(part, name)

    monkeypatch.setattr("logbook.ledger.file.take_name", after_another)
    if not links:
        monkeypatch.setattr(os, "link", no_links)
    for words in (("backup", str(target)), ("--ledger", str(target), *NEW)):
        ran = bay1(*words)
        assert (ran.code, ran.out) == (2, "")
        assert "exists already" in ran.err
        assert target.read_text() == "another's"
        target.unlink()
    assert not list(tmp_path.glob(".*part*"))


def no_links(*_args: object, **_more: object) -> None:
    raise OSError(errno.EPERM, "this disk knows no links")


def test_two_restores_in_one_second_keep_both_files_that_they_replaced(
    bay1: Run, ledger: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.ledger"
    assert bay1("backup", str(copy)).code == 0
    stood = []
    for _ in range(3):
        assert bay1("note", "lost").code == 0
        stood.append(ledger.read_bytes())
        assert bay1("restore", str(copy), *RESTORE).code == 0
    asides = sorted(ledger.parent.glob("clinic.ledger.replaced-*"))
    assert [one.read_bytes() for one in asides] == stood
    assert [one.name.partition("Z")[2] for one in asides] == ["", "-2", "-3"]


def test_a_second_name_that_a_killed_restore_left_is_taken_away_by_the_next(
    bay1: Run, ledger: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.ledger"
    assert bay1("backup", str(copy)).code == 0
    left = ledger.with_name("clinic.ledger.replaced-20260101T000000Z")
    os.link(ledger, left)
    assert bay1("note", "goes on").code == 0
    newer = ledger.read_bytes()
    assert bay1("restore", str(copy), *RESTORE).code == 0
    (aside,) = ledger.parent.glob("clinic.ledger.replaced-*")
    assert aside != left
    assert aside.read_bytes() == newer


def test_a_backup_that_a_crash_left_half_written_is_put_right_and_restored(
    bay1: Run, ledger: Path, tmp_path: Path
) -> None:
    """It has a journal of its own, on a disk that may not even be written."""
    copy = tmp_path / "stick" / "copy.ledger"
    copy.parent.mkdir()
    assert bay1("backup", str(copy)).code == 0
    whole = head_of(copy)
    crash(copy)
    half = copy.read_bytes()
    for more in ((), RESTORE):
        ran = bay1("restore", str(copy), *more)
        assert (ran.code, ran.err) == (0, "")
    assert copy.read_bytes() == half
    assert head_of(ledger)[0] == whole[0] + 1
    assert verify(ledger).findings == []


# Who reads what


@pytest.fixture
def open_handed() -> Iterator[None]:
    """A computer on which files are readable to all unless somebody says otherwise."""
    before = os.umask(0o002)
    yield
    os.umask(before)


def rights(path: Path) -> str:
    return stat.filemode(path.stat().st_mode)


def test_a_ledger_and_its_backups_are_their_owners_alone(
    open_handed: None, run_logbook: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("LOGBOOK_LEDGER")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "fresh"))
    assert run_logbook(*NEW).code == 0
    assert run_logbook("backup", str(tmp_path / "copy.ledger")).code == 0
    folder = tmp_path / "fresh" / "gas-machine-logbook"
    assert rights(folder) == "drwx------"
    for one in (folder / "clinic.ledger", tmp_path / "copy.ledger"):
        assert rights(one) == "-rw-------"


def test_a_ledger_that_is_shared_is_the_groups_and_says_so(
    open_handed: None, run_logbook: Run, tmp_path: Path
) -> None:
    (tmp_path / "ours").mkdir()
    path = tmp_path / "ours" / "clinic.ledger"
    ran = run_logbook("--ledger", str(path), *NEW, "--shared")
    assert rights(path) == "-rw-rw----"
    assert "read and write this ledger" in " ".join(ran.out.split())
    assert "chmod g+rwxs FOLDER" in ran.out
    path = path.with_name("second.ledger")
    path.parent.chmod(0o2770)
    ran = run_logbook("--ledger", str(path), *NEW, "--shared")
    assert "chmod" not in ran.out
    # What a crash leaves beside it can be played back by the others.
    crash(path)
    assert rights(side_files(path)[0]) == "-rw-rw----"


def test_a_restore_keeps_the_rights_of_the_file_that_it_replaces(
    bay1: Run, ledger: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.ledger"
    assert bay1("backup", str(copy)).code == 0
    for mode in (0o660, 0o600):
        ledger.chmod(mode)
        assert bay1("restore", str(copy), *RESTORE).code == 0
        assert stat.S_IMODE(ledger.stat().st_mode) == mode
    ledger.unlink()
    assert bay1("restore", str(copy), *RESTORE).code == 0
    assert rights(ledger) == "-rw-------"


@pytest.fixture
def passing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of this test for what commands make in passing."""
    folder = tmp_path / "passing"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    return folder


LEAVING = """
import os, sys, tempfile
from pathlib import Path
from logbook.ledger.copying import copied
from logbook.ledger.file import new_file
tempfile.tempdir = sys.argv[2]
path = Path(sys.argv[1])
with copied(path), new_file(path.with_name("copy.ledger"), "a backup") as part:
    part.write_bytes(path.read_bytes())
    print(part, flush=True)
    sys.stdin.read() if sys.argv[3] == "runs" else os._exit(9)
"""


def leaving(ledger: Path, passing: Path, how: str) -> "subprocess.Popen[str]":
    command = [sys.executable, "-c", LEAVING, str(ledger), str(passing), how]
    return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def lying_about(*folders: Path) -> list[Path]:
    return [one for folder in folders for one in folder.glob(".*")]


def test_copies_that_a_killed_command_left_are_private_and_the_next_takes_them_away(
    open_handed: None, bay1: Run, ledger: Path, passing: Path
) -> None:
    with leaving(ledger, passing, "is killed") as other:
        other.communicate()
    left = lying_about(passing, ledger.parent)
    assert len(left) == 2
    assert {rights(one) for one in left} == {"drwx------"}
    assert bay1("due").code == 3
    assert lying_about(passing) == []
    assert bay1("backup", str(ledger.with_name("copy.ledger"))).code == 0
    assert lying_about(passing, ledger.parent) == []


def test_copies_of_a_command_that_still_runs_are_left_to_it(
    bay1: Run, ledger: Path, passing: Path
) -> None:
    with leaving(ledger, passing, "runs") as other:
        assert other.stdout is not None
        part = Path(other.stdout.readline().strip())
        whole = part.read_bytes()
        assert bay1("verify").code == 0
        assert bay1("backup", str(ledger.with_name("copy.ledger"))).code == 0
        assert part.read_bytes() == whole
        other.communicate()
    assert other.returncode == 1  # The name was taken meanwhile.
    assert lying_about(passing, ledger.parent) == []


def test_a_lock_that_is_gained_on_a_folder_that_was_swept_is_none(tmp_path: Path) -> None:
    """Between making and locking, another command may take it for one that was left."""
    mkdir, seen = Path.mkdir, []

    def swept_at_once(self: Path, mode: int = 0o777) -> None:
        mkdir(self, mode)
        seen.append(self.name)
        if len(seen) == 1:
            self.rmdir()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "mkdir", swept_at_once)
        with private_file(tmp_path, "x") as part:
            assert part.parent.name == ".x.part-2"
            assert part.exists()
    assert seen == [".x.part-1", ".x.part-2"]


# Words


def test_a_full_temporary_folder_is_not_told_as_the_ledgers_disk(
    bay1: Run, passing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_names: Path) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(copying.shutil, "copyfile", full)
    ran = bay1("verify")
    assert (ran.code, ran.out) == (5, "")
    assert f"the temporary folder {passing} has no space for a copy" in ran.err
    assert lying_about(passing) == []


def test_sqlite_keeps_nothing_of_its_own_in_a_temporary_folder(
    bay1: Run, ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with reading(ledger) as book:
        assert book.connection.exec_driver_sql("PRAGMA temp_store").scalar_one() == 2


def test_a_full_stick_is_told_by_the_name_of_the_backup(
    bay1: Run, ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from logbook.ledger import connect

    raw = connect._raw

    def small(path: Path, mode: str) -> sqlite3.Connection:
        opened = raw(path, mode)
        if ".part-" in path.parent.name:
            opened.execute("PRAGMA max_page_count = 2")
        return opened

    monkeypatch.setattr(connect, "_raw", small)
    target = tmp_path / "copy.ledger"
    ran = bay1("backup", str(target))
    assert (ran.code, ran.out) == (5, "")
    assert f"{target}: the disk is full" in ran.err
    assert not target.exists()


def test_without_a_home_no_folder_named_tilde_is_made(
    run_logbook: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import pwd

    def nobody(_number: int) -> None:
        raise KeyError("no such user")

    monkeypatch.chdir(tmp_path)
    for name in ("HOME", "XDG_CONFIG_HOME", "LOGBOOK_LEDGER"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(pwd, "getpwuid", nobody)
    for words in (("due",), NEW):
        ran = run_logbook(*words)
        assert (ran.code, ran.out) == (2, "")
        assert "HOME is not set); name the ledger's file with --ledger" in ran.err
    path = str(tmp_path / "named.ledger")
    assert run_logbook("--ledger", path, *NEW).code == 0
    assert run_logbook("--ledger", path, "staff", "add", "KO", "Day lead").code == 0
    assert not (tmp_path / "~").exists()


def test_an_upgrade_makes_its_copy_as_private_as_the_ledger(
    ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ledger.chmod(0o660)
    upgrade._copy_before(ledger)
    (copy,) = ledger.parent.glob("*.before-*")
    assert stat.S_IMODE(copy.stat().st_mode) == 0o660
    assert not lying_about(ledger.parent)
