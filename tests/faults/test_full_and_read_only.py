"""A disk that fills up and a place that may not be written: told in a sentence, reading goes on."""

import os
import random
import re
import resource
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.faults.bench import Place, Ran, fresh, killed_at, run, traced
from tests.faults.commands import BY_NAME, DUE, NOTE, Writing
from tests.faults.oracle import REFUSED, Expected, Said, entries, meanings, plain, refused
from tests.faults.trials import all_of, look_after, record_calls

OFFSETS = {"quick": 3, "ci": 50, "full": 200}
ROWS = 24
"""So many cases that the ledger grows by several pages."""
BIG = Writing("import", ("import", "cases", "many.csv"), ROWS)
NOBODY = 65534
TMPFS_BYTES = 2_000_000


def many_cases() -> str:
    """A file of cases on days of their own."""
    days = [f"2025-{month:02}-{day:02}" for month in range(1, 13) for day in range(1, 29)]
    return "machine,began,ran\n" + "".join(f"bay1,{day} 08:00,1h\n" for day in days[:ROWS])


@pytest.fixture
def before(benches: Executor, clinics: Path, tmp_path: Path) -> tuple[Place, Expected, int]:
    """The clinic with many cases to import, what they come to, and the ledger's size then."""
    start = Place(clinics / "clinic").copy(tmp_path / "start")
    (start.folder / "many.csv").write_text(many_cases())
    job = benches.submit(record_calls, start, tmp_path / "whole", BIG, saying=False)
    grown = Place(tmp_path / "whole").ledger
    return start, job.result().expected, grown.stat().st_size


@dataclass(frozen=True)
class Filled:
    """What an import came to where the disk ended; ``stuck`` where nobody could read before there
    was space, because not even the pages that stood there could be written back."""

    saved: bool
    stuck: bool
    breaches: list[str]


DISK_ERROR = re.compile(r"Not done, nothing saved: [^\n]+: the disk gave an error; check space.+\n")


def judged(place: Place, expected: Expected, ran: Ran, reading: Ran, number: int) -> Filled:
    """An import that is whole or nothing, and a question that is answered all the same."""
    saved = ran.code == 0
    stuck = place.is_hot()
    if stuck:
        breaches = list(refused("reading on a stuck disk", reading, 5, DISK_ERROR))
    else:
        breaches = list(plain("reading on the full disk", reading, 3))
    breaches += plain("the import", ran, 0) if saved else refused("the import", ran, 5)
    breaches += look_after(place, expected, Said(saved, to_the_end=True), number).breaches
    return Filled(saved, stuck, breaches)


def limited(start: Place, folder: Path, expected: Expected, limit: int, number: int) -> Filled:
    """Import where no file may grow beyond a limit."""
    place = start.copy(folder)

    def limit_files() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    ran = run(place, expected.command.words, limit_files)
    reading = run(place, DUE.words, limit_files)
    return judged(place, expected, ran, reading, number)


def test_a_file_that_may_not_grow_refuses_the_import_and_can_be_read(
    benches: Executor, before: tuple[Place, Expected, int], tmp_path: Path, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    start, expected, grown = before
    # From a limit at which no journal can begin to one at which everything fits.
    step = grown / (OFFSETS[size] - 1)
    limits = [max(512, round(number * step)) for number in range(OFFSETS[size])]
    jobs = [
        (start, tmp_path / str(number), expected, limit, number)
        for number, limit in enumerate(limits)
    ]
    seen = all_of(benches, limited, jobs)
    breaches = [f"at {limit} bytes: {bad}" for limit, one in zip(limits, seen, strict=True)
                for bad in one.breaches]  # fmt: skip
    saved = sum(one.saved for one in seen)
    report(
        f"files limited in size: {len(seen)} limits from {limits[0]} to {limits[-1]} bytes, "
        f"{len(seen) - saved} refused, {saved} saved, {sum(one.stuck for one in seen)} not to be "
        f"read before there was space, {len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)
    assert 0 < saved < len(seen)


@contextmanager
def small_disk(place: Place) -> Iterator[None]:
    """The desk on a file system of its own that is soon full."""
    kept = place.desk.rename(place.folder / "kept")
    place.desk.mkdir()
    options = ["-o", f"size={TMPFS_BYTES}", "tmpfs", str(place.desk)]
    subprocess.run(["mount", "-t", "tmpfs", *options], check=True, capture_output=True)
    try:
        for one in kept.iterdir():
            (place.desk / one.name).write_bytes(one.read_bytes())
        yield
    finally:
        subprocess.run(["umount", place.desk], check=True)


def filled(start: Place, folder: Path, expected: Expected, free: int, number: int) -> Filled:
    """Import on a disk on which so many bytes are free; then somebody frees some space."""
    place = start.copy(folder)
    with small_disk(place):
        state = os.statvfs(place.desk)
        stone = place.folder / "desk" / "other.data"
        stone.write_bytes(b"\0" * (state.f_bavail * state.f_bsize - free))
        ran = run(place, expected.command.words)
        reading = run(place, DUE.words)
        stone.unlink()
        return judged(place, expected, ran, reading, number)


def may_mount() -> bool:
    """Whether this user may mount a file system here; tried, because no right says it for sure."""
    with tempfile.TemporaryDirectory() as folder:
        tried = subprocess.run(
            ["mount", "-t", "tmpfs", "tmpfs", folder], check=False, capture_output=True
        )
        if tried.returncode == 0:
            subprocess.run(["umount", folder], check=True)
        return tried.returncode == 0


def test_a_full_disk_refuses_the_import_and_can_be_read_and_worked_on_once_there_is_space(
    benches: Executor, before: tuple[Place, Expected, int], tmp_path: Path, size: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    if not may_mount():
        report("full disk: not tried, because this user may not mount a small one")
        pytest.skip("no right to mount a small disk; the files limited in size stand for it")
    start, expected, grown = before
    # From no space at all to enough for the growth and a journal of every page.
    most = 2 * grown - start.ledger.stat().st_size
    count = max(3, OFFSETS[size] // 2)
    spaces = [round(number * most / (count - 1)) for number in range(count)]
    jobs = [
        (start, tmp_path / str(number), expected, free, number)
        for number, free in enumerate(spaces)
    ]
    seen = all_of(benches, filled, jobs)
    breaches = [f"with {free} bytes free: {bad}" for free, one in zip(spaces, seen, strict=True)
                for bad in one.breaches]  # fmt: skip
    saved = sum(one.saved for one in seen)
    report(
        f"full disk: {len(seen)} disks with 0 to {most} bytes free, {len(seen) - saved} refused, "
        f"{saved} saved, {len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)
    assert 0 < saved < len(seen)
    assert not any(one.stuck for one in seen)


@dataclass(frozen=True)
class Rights:
    """Who owns the desk, and what may be done with it."""

    owner: int
    folder: int
    file: int


MINE_FILE_READ_ONLY = Rights(NOBODY, 0o700, 0o400)
MINE_FOLDER_READ_ONLY = Rights(NOBODY, 0o500, 0o600)
ANOTHERS = Rights(0, 0o755, 0o644)
ANOTHERS_HIDDEN = Rights(0, 0o755, 0o600)
CASES = [
    ("a note into a file that is read-only", MINE_FILE_READ_ONLY, NOTE, 5, "read-only"),
    ("a question to a file that is read-only", MINE_FILE_READ_ONLY, DUE, 3, ""),
    ("a note into a folder that is read-only", MINE_FOLDER_READ_ONLY, NOTE, 5, "read-only"),
    ("a question in a folder that is read-only", MINE_FOLDER_READ_ONLY, DUE, 3, ""),
    ("a note into another user's file", ANOTHERS, NOTE, 5, "read-only"),
    ("a question to another user's file", ANOTHERS, DUE, 3, ""),
    ("a note into a file that may not be read", ANOTHERS_HIDDEN, NOTE, 2, "is not readable"),
    ("a question to a file that may not be read", ANOTHERS_HIDDEN, DUE, 2, "is not readable"),
]


@pytest.fixture
def anywhere() -> Iterator[Path]:
    """A folder into which every user may look."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        yield Path(folder)


def become_nobody() -> None:
    """Give up the rights of root, which no read-only file binds."""
    os.setgroups([])
    os.setgid(NOBODY)
    os.setuid(NOBODY)


def settled(place: Place, rights: Rights) -> None:
    """Give the desk its owner and rights."""
    for one in place.desk.iterdir():
        os.chown(one, rights.owner, rights.owner)
        one.chmod(rights.file)
    os.chown(place.desk, rights.owner, rights.owner)
    place.desk.chmod(rights.folder)


def as_nobody(start: Place, folder: Path, rights: Rights, command: Writing) -> tuple[Ran, bool]:
    """What a command says where rights are missing, and whether the ledger stayed as it was."""
    place = start.copy(folder)
    settled(place, rights)
    before = place.ledger.read_bytes()
    ran = run(place, command.words, become_nobody)
    return ran, place.ledger.read_bytes() == before


def demand_root() -> None:
    """Who is not root cannot give a file to somebody else."""
    if os.geteuid():
        pytest.skip("only root can try what another user may do")


@pytest.mark.parametrize(("what", "rights", "command", "code", "because"), CASES)
def test_a_place_without_rights_is_told_in_a_sentence_and_left_as_it_is(
    benches: Executor, clinics: Path, anywhere: Path, what: str, rights: Rights, command: Writing,
    code: int, because: str, report: Callable[[str], None],
) -> None:  # fmt: skip
    demand_root()
    start = Place(clinics / "clinic")
    ran, untouched = benches.submit(as_nobody, start, anywhere / "trial", rights, command).result()
    report(f"read-only: {what} exits {ran.code}: {ran.err.split(': ')[-1].strip() or 'answered'}")
    assert ran.code == code
    if because:
        assert (ran.out, bool(REFUSED.fullmatch(ran.err))) == ("", True), ran
        assert because in ran.err
    else:
        assert (bool(ran.out), ran.err) == (True, "")
    assert untouched


def crashed_then_read_only(start: Place, folder: Path, calls: Path) -> tuple[Ran, Ran, list[str]]:
    """A question where a journal waits but may not be played back; then where it may."""
    recording = record_calls(start, calls, BY_NAME["import"], saying=False)
    unlink = [call for call in recording.calls if call.name == "unlink"][-1]
    place = start.copy(folder)
    traced(place, BY_NAME["import"].words, killed_at(unlink), saying=False)
    assert place.is_hot()
    settled(place, MINE_FOLDER_READ_ONLY)
    hindered = run(place, DUE.words, become_nobody)
    place.desk.chmod(0o700)
    free = run(place, DUE.words, become_nobody)
    rows = fresh(lambda: meanings(entries(place.ledger)))
    return hindered, free, [] if rows == meanings(recording.expected.before) else ["changed"]


def test_a_crash_that_cannot_be_undone_for_lack_of_rights_is_told_and_undone_later(
    benches: Executor, clinics: Path, anywhere: Path, tmp_path: Path
) -> None:
    demand_root()
    start = Place(clinics / "clinic")
    hindered, free, changed = benches.submit(
        crashed_then_read_only, start, anywhere / "trial", tmp_path / "calls"
    ).result()
    assert (hindered.code, hindered.out) == (5, ""), hindered
    assert REFUSED.fullmatch(hindered.err), hindered.err
    assert (free.code, free.err) == (3, "")
    assert changed == []
