"""Verify, checkpoint, backup, restore, what this computer saw, and the program for strangers."""

import ast
import json
import multiprocessing
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

import pytest

import logbook.verify_standalone as stranger
from logbook.entries.base import canonical_json
from logbook.errors import InputError, LedgerError, NewerLedger, NotALedger, NotSaved
from logbook.ledger import connect, copying
from logbook.ledger.chain import Stored, genesis_hash, link_hash
from logbook.ledger.copying import copied
from logbook.ledger.disk import side_files
from logbook.ledger.schema import GUARDS, guard_sql
from logbook.ledger.store import head, ledger_uuid, stand, stored_rows
from logbook.proof.backup import backup, plan_restore, restore
from logbook.proof.checkpoint import Checkpoint, Expected, checkpoint, read_expected
from logbook.proof.findings import one_spelling
from logbook.proof.place import place_warning
from logbook.proof.seen import Memory
from logbook.proof.verify import verify
from logbook.recording.opening import reading, writing
from tests.conftest import NOW, Ran
from tests.ledger.scribe import Scribe
from tests.ledger.weeks import busy_week

UUID = "00000000-0000-4000-8000-000000000000"


def note(ledger: Path, text: str) -> None:
    with writing(ledger) as book:
        Scribe(book)("note", "2026-03-02 08:00", text=text)


def head_of(ledger: Path) -> tuple[int, str]:
    with reading(ledger) as book:
        return head(book.connection)


def tamper(ledger: Path, *statements: str) -> None:
    """Change a file with the guards away, and set them again."""
    with closing(sqlite3.connect(ledger, isolation_level=None)) as raw:
        for name in GUARDS:
            raw.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            raw.execute(statement)
        for name in GUARDS:
            raw.execute(guard_sql(name))


def checks(ledger: Path, expected: Expected | None = None) -> list[str]:
    return [finding.check for finding in verify(ledger, expected).findings]


# Verify


def test_a_whole_ledger_verifies_and_is_left_byte_for_byte(ledger: Path) -> None:
    with writing(ledger) as book:
        busy_week(Scribe(book))
    before = ledger.read_bytes()
    told = verify(ledger)
    assert told.findings == []
    assert told.checkpoint is not None
    assert (told.checkpoint.entries, told.checkpoint.head) == head_of(ledger)
    assert ledger.read_bytes() == before
    assert [one.name for one in ledger.parent.glob("*.ledger*")] == ["clinic.ledger"]


@pytest.mark.parametrize(
    ("statement", "check"),
    [
        ('UPDATE entry SET body = \'{"text": "x"}\' WHERE seq = 3', "chain"),
        ("UPDATE entry SET by = 'XX' WHERE seq = 3", "chain"),
        ("UPDATE entry SET recorded_local = recorded_at WHERE seq = 3", "chain"),
        ("UPDATE ledger SET uuid = '00000000-0000-4000-8000-000000000000'", "chain"),
        ("UPDATE ledger SET created_at = '2026-01-01T12:00:01Z'", "ledger"),
        ("DELETE FROM ledger", "entries"),
        ("UPDATE alembic_version SET version_num = '0000'", "ledger"),
        ("DELETE FROM alembic_version", "entries"),
        ("INSERT INTO note VALUES (99, 0, NULL, 'nobody wrote this')", "projections"),
        ("DELETE FROM note", "projections"),
        ("UPDATE note SET text = 'other'", "projections"),
        ("UPDATE note SET entry = 2", "projections"),
        ("DROP INDEX entry_id", "schema"),
        ("CREATE TABLE extra (n)", "schema"),
        ("CREATE VIEW extra AS SELECT 1", "schema"),
        ("ALTER TABLE note ADD COLUMN more TEXT", "schema"),
        ("CREATE TRIGGER extra BEFORE INSERT ON note BEGIN SELECT 1; END", "guards"),
        ("INSERT INTO person VALUES ('ZZ', 'Nobody')", "people"),
    ],
)
def test_each_change_by_other_means_is_found_by_its_check(
    ledger: Path, statement: str, check: str
) -> None:
    note(ledger, "x")
    assert checks(ledger) == []
    tamper(ledger, statement)
    assert checks(ledger)[0] == check


def rehashed(ledger: Path, seq: int, **changed: str) -> None:
    """Change an entry and every hash from it on, as somebody with time would."""
    with reading(ledger) as book:
        uuid, rows = ledger_uuid(book.connection), list(stored_rows(book.connection))
    last = genesis_hash(uuid)
    statements = []
    for row in rows:
        values = {name: getattr(row, name) for name in Stored.__slots__}
        new = Stored(**(values | (changed if row.seq == seq else {})))
        last = link_hash(last, new)
        sets = {**(changed if row.seq == seq else {}), "hash": last}
        told = ", ".join(f"\"{name}\" = '{value}'" for name, value in sets.items())
        statements.append(f"UPDATE entry SET {told} WHERE seq = {row.seq}")  # noqa: S608
    tamper(ledger, *statements)


@pytest.mark.parametrize(
    ("changed", "check"),
    [
        ({"body": '{"text": "x"}'}, "canonical"),
        ({"body": '{"text":1.5}'}, "canonical"),
        ({"body": '{"text":9007199254740992}'}, "canonical"),
        ({"body": '{"text":"é"}'}, "canonical"),
        ({"body": '{"text":"x","text":"x"}'}, "canonical"),
        ({"body": '{"nothing":"x"}'}, "entries"),
        ({"kind": "unheard"}, "entries"),
        ({"happened_at": "soon"}, "canonical"),
        ({"happened_at": "2026-03-02"}, "canonical"),
        ({"recorded_at": "2026-03-02T14:30:00+00:00"}, "canonical"),
        ({"happened_at": "1899-12-31T23:59:59Z"}, "canonical"),
        ({"happened_at": "2200-01-01T00:00:00Z"}, "canonical"),
    ],
)
def test_an_entry_that_is_hashed_well_and_means_nothing_is_found(
    ledger: Path, changed: dict[str, str], check: str
) -> None:
    for text in ("x", "y"):
        note(ledger, text)
    rehashed(ledger, 3, **changed)
    (finding,) = verify(ledger).findings
    assert (finding.check, finding.entry) == (check, 3)


@pytest.mark.parametrize(
    "body", ['{"a":1}', '{"a":[true,null,"\\u00e9"]}', '{"b":-9007199254740991}', '"x"', "[]"]
)
def test_one_spelling_is_what_the_program_writes_and_the_stranger_agrees(body: str) -> None:
    assert canonical_json(json.loads(body)) == body
    assert one_spelling(body)
    assert stranger.one_spelling(body)


@pytest.mark.parametrize(
    "body",
    [
        '{"b":1,"a":1}', '{"a": 1}', '{"a":1.0}', '{"a":1e3}', '{"a":NaN}', '{"a":Infinity}',
        '{"a":9007199254740992}', '{"a":-9007199254740992}', '{"a":"é"}', '{"a":1,"a":1}', "{",
        "", "[" * 100_000, '{"a":"\\u00E9"}', '{"a":01}', '{"a":-0}', ' {"a":1}',
    ],
)  # fmt: skip
def test_another_spelling_is_refused_here_and_by_the_stranger(body: str) -> None:
    assert not one_spelling(body)
    assert not stranger.one_spelling(body)


@pytest.mark.parametrize("content", [b"", b"no database at all" * 100, bytes(8192)])
def test_a_file_that_is_no_ledger_is_said_to_be_none(
    ledger: Path, content: bytes, run_logbook: Callable[..., Ran]
) -> None:
    ledger.write_bytes(content)
    ran = run_logbook("verify")
    assert ran.code == 4
    assert "Traceback" not in ran.err


def test_the_database_of_another_program_is_no_ledger(ledger: Path) -> None:
    tamper(ledger, "PRAGMA application_id = 1")
    with pytest.raises(NotALedger):
        verify(ledger)


NEWER = "UPDATE alembic_version SET version_num = '9999'"


def test_a_ledger_of_a_newer_program_is_not_judged(ledger: Path) -> None:
    tamper(ledger, NEWER, "ALTER TABLE note ADD COLUMN more TEXT")
    with pytest.raises(NewerLedger):
        verify(ledger)


def test_a_newer_version_over_the_tables_of_this_program_was_set_by_hand_and_is_told(
    ledger: Path, run_logbook: Callable[..., Ran]
) -> None:
    tamper(ledger, NEWER)
    assert [(one.check, one.sentence) for one in verify(ledger).findings] == [
        ("ledger", "this program knows no version '9999' of the ledger")
    ]
    refused = run_logbook("due")
    assert refused.code == 6
    assert refused.err.endswith(
        "install the newer program, or where there is none, see: logbook verify.\n"
    )


def test_a_version_that_is_no_number_is_told_as_damage(
    ledger: Path, run_logbook: Callable[..., Ran]
) -> None:
    tamper(ledger, "UPDATE alembic_version SET version_num = 'zzzz'")
    refused = run_logbook("due")
    assert (refused.code, refused.out) == (4, "")
    assert "says that its version is 'zzzz', which no program wrote" in refused.err
    assert run_logbook("verify").code == 4


CRASH = """
import os, sqlite3, sys
raw = sqlite3.connect(sys.argv[1], isolation_level=None)
raw.execute("PRAGMA cache_size = 1")
raw.execute("BEGIN IMMEDIATE")
raw.execute("DROP TABLE note")
raw.executemany("INSERT INTO person VALUES (?, ?)", [(str(n), "x" * 900) for n in range(500)])
os._exit(9)
"""


def test_a_file_that_a_crash_left_half_way_is_verified_with_its_journal(ledger: Path) -> None:
    subprocess.run([sys.executable, "-c", CRASH, str(ledger)], check=False)
    half = ledger.read_bytes()
    assert verify(ledger).findings == []
    assert ledger.read_bytes() == half
    journal = side_files(ledger)[0]
    assert journal.exists()
    assert stranger.main([str(ledger)]) == 0
    subprocess.run([sys.executable, "-c", CRASH, str(ledger)], check=False)
    journal.unlink()
    assert verify(ledger).findings != []


def test_writers_wait_only_while_the_copy_is_made(ledger: Path) -> None:
    with copied(ledger):
        note(ledger, "written while the copy is looked at")
    assert head_of(ledger)[0] == 3


def test_who_writes_while_a_large_file_is_copied_does_not_wait_and_is_in_the_copy(
    ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connect, "BUSY_TIMEOUT_MS", 50)
    monkeypatch.setattr(copying, "_AT_ONCE_BYTES", 0)

    def torn(file: BinaryIO, to: BinaryIO, _: int) -> None:
        to.write(file.read(5_000))
        note(ledger, "written when a part was copied")
        to.write(file.read())
        to.write(b"more than the file has")

    monkeypatch.setattr(shutil, "copyfileobj", torn)
    with copied(ledger) as copy:
        assert head_of(ledger)[0] == 3
        assert copy.read_bytes() == ledger.read_bytes()


def hold(path: str, ready: "multiprocessing.synchronize.Event") -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.execute("BEGIN EXCLUSIVE")
        ready.set()
        threading.Event().wait(60)


def test_a_file_that_is_held_for_too_long_is_not_copied_half_way(
    ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connect, "BUSY_TIMEOUT_MS", 50)
    context = multiprocessing.get_context("spawn")
    ready = context.Event()
    holder = context.Process(target=hold, args=(str(ledger), ready), daemon=True)
    holder.start()
    try:
        assert ready.wait(60)
        with pytest.raises(NotSaved, match="in use by another program"):
            verify(ledger)
    finally:
        holder.kill()
        holder.join()


# Checkpoint


def test_a_checkpoint_reads_back_from_paper_and_from_its_file(
    ledger: Path, tmp_path: Path, run_logbook: Callable[..., Ran]
) -> None:
    target = tmp_path / "friday.checkpoint"
    assert run_logbook("checkpoint", "--to", str(target)).code == 0
    with reading(ledger) as book:
        told = checkpoint(book.connection, NOW)
    assert target.read_text() == told.text() == run_logbook("checkpoint").out
    assert told.text().splitlines()[0] == "gas-machine logbook checkpoint"
    assert re.search(r"^head: ([0-9a-f]{4} ){15}[0-9a-f]{4}$", told.text(), re.M)
    full = Expected(told.head, told.entries, told.ledger)
    assert read_expected(str(target)) == full
    for typed in (told.head, told.head.upper(), " ".join(re.findall("....", told.head))):
        assert read_expected(typed) == Expected(told.head)
    assert checks(ledger, full) == checks(ledger, Expected(told.head)) == []


def test_a_checkpoint_never_replaces_a_file(
    tmp_path: Path, run_logbook: Callable[..., Ran]
) -> None:
    target = tmp_path / "friday.checkpoint"
    target.write_text("mine")
    ran = run_logbook("checkpoint", "--to", str(target))
    assert ran.code == 2
    assert "exists already" in ran.err
    assert target.read_text() == "mine"


@pytest.mark.parametrize("text", ["", "abc", "0" * 63, "g" * 64, "no-such-file", ".", "\0", "é"])
def test_what_is_no_checkpoint_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="is no checkpoint"):
        read_expected(text)


def expected_of(ledger: Path) -> Expected:
    with reading(ledger) as book:
        told = checkpoint(book.connection, NOW)
    return Expected(told.head, told.entries, told.ledger)


def test_a_ledger_that_went_on_still_holds_its_checkpoint_and_an_older_one_does_not(
    ledger: Path,
) -> None:
    older = expected_of(ledger)
    copy = ledger.read_bytes()
    note(ledger, "x")
    newer = expected_of(ledger)
    assert checks(ledger, older) == checks(ledger, newer) == []
    ledger.write_bytes(copy)
    assert checks(ledger, older) == []
    assert checks(ledger, newer) == ["checkpoint"]


def test_each_line_of_a_checkpoint_is_held_against_the_ledger(ledger: Path) -> None:
    right = expected_of(ledger)
    wrong = (
        Expected(right.head, 1, right.ledger),
        Expected(right.head, 0, right.ledger),
        Expected(right.head, right.entries, UUID),
        Expected("0" * 64, right.entries, right.ledger),
        Expected("0" * 64, 0),
        Expected("0" * 64),
    )
    for expected in wrong:
        assert checks(ledger, expected) == ["checkpoint"], expected


def test_the_head_of_an_empty_ledger_is_held_by_every_ledger_that_grew_from_it(
    ledger: Path,
) -> None:
    with reading(ledger) as book:
        genesis = genesis_hash(ledger_uuid(book.connection))
    assert checks(ledger, Expected(genesis)) == checks(ledger, Expected(genesis, 0)) == []
    assert stranger.main([str(ledger), genesis]) == 0


# Backup


def test_a_backup_is_a_whole_ledger_with_the_same_head(ledger: Path, tmp_path: Path) -> None:
    note(ledger, "x")
    told = backup(ledger, tmp_path / "copy.ledger")
    assert (told.entries, told.head) == head_of(ledger) == head_of(tmp_path / "copy.ledger")
    assert checks(tmp_path / "copy.ledger") == []
    assert not list(tmp_path.glob("*.part"))


def test_a_backup_never_overwrites(ledger: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.ledger"
    target.write_text("mine")
    with pytest.raises(InputError, match="exists already"):
        backup(ledger, target)
    assert target.read_text() == "mine"


def no_links(*_paths: object) -> None:
    raise PermissionError(1, "this disk knows no links")


def test_a_backup_is_made_on_a_disk_without_links(
    ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "link", no_links)
    assert backup(ledger, tmp_path / "copy.ledger").entries == 2
    assert checks(tmp_path / "copy.ledger") == []


@pytest.mark.parametrize("links", [True, False])
def test_a_backup_whose_name_is_taken_while_it_is_made_never_overwrites(
    ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    from logbook.proof import backup as module

    if not links:
        monkeypatch.setattr(os, "link", no_links)
    target = tmp_path / "copy.ledger"

    def slow(path: Path, name: str, what: str) -> Checkpoint:
        target.write_text("somebody else's")
        return whole(path, name, what)

    whole = module._whole
    monkeypatch.setattr(module, "_whole", slow)
    with pytest.raises(InputError, match="exists already"):
        backup(ledger, target)
    assert target.read_text() == "somebody else's"
    assert not list(tmp_path.glob("*.part"))


def test_a_damaged_ledger_is_not_kept_as_a_backup(ledger: Path, tmp_path: Path) -> None:
    tamper(ledger, "UPDATE entry SET by = 'XX' WHERE seq = 2")
    with pytest.raises(LedgerError, match="entry 2 does not continue the chain"):
        backup(ledger, tmp_path / "copy.ledger")
    assert {one.name for one in tmp_path.iterdir() if one.is_file()} == {"clinic.ledger"}


def test_a_backup_needs_its_folder(ledger: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="does not exist"):
        backup(ledger, tmp_path / "nowhere" / "copy.ledger")


# Restore


@pytest.fixture
def memory(tmp_path: Path) -> Memory:
    return Memory(tmp_path / "seen")


def seen(memory: Memory, ledger: Path) -> str | None:
    with reading(ledger) as book:
        return memory.look(book.connection, stand(book.connection), ledger)


def test_a_restore_says_what_it_would_do_and_does_it_only_when_told(
    ledger: Path, tmp_path: Path, run_logbook: Callable[..., Ran]
) -> None:
    copy = tmp_path / "copy.ledger"
    backup(ledger, copy)
    note(ledger, "x")
    before = ledger.read_bytes()
    ran = run_logbook("restore", str(copy))
    assert ran.code == 0
    assert "Lost by it: 1 entry. Nothing was changed." in ran.out
    assert ledger.read_bytes() == before
    unexplained = run_logbook("restore", str(copy), "--go")
    assert unexplained.code == 2
    assert ledger.read_bytes() == before


def test_a_restore_declares_the_gap_and_keeps_the_file(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    copy = tmp_path / "copy.ledger"
    told = backup(ledger, copy)
    note(ledger, "x")
    newer, (count, last) = ledger.read_bytes(), head_of(ledger)
    assert seen(memory, ledger) is None
    plan, saved, aside = restore(ledger, copy, memory, reason="disk died", by="KO", now=NOW)
    assert (plan.lost_entries, plan.lost_head) == (1, last)
    assert (saved.entry.kind, saved.entry.seq) == ("restore", told.entries + 1)
    assert saved.entry.body.model_dump(mode="json", exclude_none=True) == {
        "from_entries": told.entries, "from_head": told.head,
        "lost_entries": count - told.entries, "lost_head": last, "reason": "disk died",
    }  # fmt: skip
    assert aside is not None
    assert aside.read_bytes() == newer
    assert checks(ledger) == []
    assert seen(memory, ledger) is None


def test_a_computer_that_saw_an_older_head_is_quiet_after_its_own_restore(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    copy = tmp_path / "copy.ledger"
    backup(ledger, copy)
    note(ledger, "seen here")
    assert seen(memory, ledger) is None
    note(ledger, "written by another computer")
    restore(ledger, copy, memory, reason="disk died", by="KO", now=NOW)
    assert seen(memory, ledger) is None


def test_another_computer_is_quiet_where_the_gap_names_the_head_that_it_saw(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    elsewhere = Memory(tmp_path / "seen elsewhere")
    copy = tmp_path / "copy.ledger"
    backup(ledger, copy)
    note(ledger, "x")
    assert seen(elsewhere, ledger) is None
    restore(ledger, copy, memory, reason="disk died", by="KO", now=NOW)
    assert seen(elsewhere, ledger) is None
    silently = Memory(tmp_path / "seen before")
    silently.remember(elsewhere_uuid(ledger), 9, "ab" * 32)
    assert "is older than the one used here before" in (seen(silently, ledger) or "")


def elsewhere_uuid(ledger: Path) -> str:
    with reading(ledger) as book:
        return ledger_uuid(book.connection)


def test_what_went_another_way_than_the_backup_is_not_counted_as_lost(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    fork = Path(shutil.copy(ledger, tmp_path / "fork.ledger"))
    note(fork, "another way")
    note(ledger, "x")
    note(ledger, "y")
    assert seen(memory, fork) is None
    copy = tmp_path / "copy.ledger"
    backup(ledger, copy)
    plan = plan_restore(tmp_path / "gone.ledger", copy, memory)
    assert (plan.lost_entries, plan.lost_head) == (None, head_of(fork)[1])


def test_nothing_is_lost_where_the_backup_is_as_new_as_the_ledger(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    backup(ledger, tmp_path / "copy.ledger")
    plan = plan_restore(ledger, tmp_path / "copy.ledger", memory)
    assert (plan.lost_entries, plan.lost_head) == (0, None)
    unseen = plan_restore(tmp_path / "gone.ledger", tmp_path / "copy.ledger", memory)
    assert (unseen.lost_entries, unseen.lost_head) == (None, None)


def test_a_restore_over_a_file_that_cannot_be_read_still_works(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    copy = tmp_path / "copy.ledger"
    backup(ledger, copy)
    ledger.write_bytes(b"spoilt" * 1000)
    side_files(ledger)[0].write_bytes(b"left by a crash")
    plan, _, aside = restore(ledger, copy, memory, reason="disk died", by="KO", now=NOW)
    assert plan.lost_entries is None
    assert aside is not None
    assert aside.read_bytes() == b"spoilt" * 1000
    assert not side_files(ledger)[0].exists()
    assert checks(ledger) == []


def test_a_journal_without_its_file_is_not_played_into_the_restored_one(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    copy = tmp_path / "copy.ledger"
    backup(ledger, copy)
    for text in ("x", "y", "z"):
        note(ledger, text)
    crash = CRASH.replace("DROP TABLE note", "DROP TABLE entry")
    subprocess.run([sys.executable, "-c", crash, str(ledger)], check=False)
    ledger.unlink()
    assert side_files(ledger)[0].exists()
    restore(ledger, copy, memory, reason="disk died", by="KO", now=NOW)
    assert not side_files(ledger)[0].exists()
    assert checks(ledger) == []
    assert head_of(ledger)[0] == 3


def test_a_spoilt_backup_is_refused_and_the_ledger_stays(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    copy = Path(shutil.copy(ledger, tmp_path / "copy.ledger"))
    tamper(copy, "UPDATE entry SET by = 'XX' WHERE seq = 1")
    before = ledger.read_bytes()
    for source, error in ((copy, LedgerError), (ledger, InputError), (tmp_path / "no", InputError)):
        with pytest.raises(error):
            restore(ledger, source, memory, reason="disk died", by="KO", now=NOW)
    assert ledger.read_bytes() == before


def test_a_restore_with_a_signature_that_nobody_has_changes_nothing(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    copy = tmp_path / "copy.ledger"
    backup(ledger, copy)
    before = {one.name: one.read_bytes() for one in tmp_path.glob("*ledger*")}
    with pytest.raises(InputError, match="nobody here signs as XX"):
        restore(ledger, copy, memory, reason="disk died", by="XX", now=NOW)
    assert {one.name: one.read_bytes() for one in tmp_path.glob("*ledger*")} == before


def test_the_name_of_the_ledger_is_at_no_moment_without_a_file(
    ledger: Path, tmp_path: Path, memory: Memory, monkeypatch: pytest.MonkeyPatch
) -> None:
    from logbook.proof import backup as module

    backup(ledger, tmp_path / "copy.ledger")
    set_aside, stood = module._set_aside, []

    def watched(path: Path, now: datetime) -> Path | None:
        aside = set_aside(path, now)
        stood.append(path.is_file())
        return aside

    monkeypatch.setattr(module, "_set_aside", watched)
    restore(ledger, tmp_path / "copy.ledger", memory, reason="drill", by="KO", now=NOW)
    assert stood == [True]


WRITER = """
import sys
from pathlib import Path
from logbook.errors import NotSaved
from logbook.recording import record
from logbook.recording.opening import writing
from tests.ledger.scribe import Scribe
print("ready", flush=True)
sys.stdin.readline()
try:
    with writing(Path(sys.argv[1])) as book:
        Scribe(book)("note", "2026-03-02 08:00", text="written meanwhile")
    print("saved")
except NotSaved:
    print("not saved")
"""


def test_an_entry_that_is_written_during_a_restore_is_counted_or_not_saved(
    ledger: Path, tmp_path: Path, memory: Memory, monkeypatch: pytest.MonkeyPatch
) -> None:
    from logbook.proof import backup as module

    copy = tmp_path / "copy.ledger"
    backup(ledger, copy)
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(ledger)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert writer.stdin
    assert writer.stdout
    assert writer.stdout.readline() == "ready\n"
    declare = module._declare

    def with_a_writer(*given: object) -> object:
        writer.stdin.write("go\n")
        writer.stdin.flush()
        threading.Event().wait(1.0)  # Long enough for the writer to come to the lock.
        return declare(*given)

    monkeypatch.setattr(module, "_declare", with_a_writer)
    _, _, aside = restore(ledger, copy, memory, reason="drill", by="KO", now=NOW)
    assert writer.communicate()[0] == "not saved\n"
    assert aside is not None
    assert head_of(aside)[0] == 2


# What this computer saw


def test_a_computer_says_where_a_ledger_does_not_continue_what_it_saw(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    copy = Path(shutil.copy(ledger, tmp_path / "copy.ledger"))
    assert seen(memory, ledger) is None
    note(ledger, "x")
    assert seen(memory, ledger) is None
    assert seen(memory, copy) == (
        "This ledger is older than the one used here before: it has 2 entries, and 3 were seen"
    )
    note(copy, "another")
    assert seen(memory, copy) == (
        "This ledger is not the one used here before: its entry 3 is another"
    )
    assert seen(memory, ledger) is None


def test_the_command_line_says_it_on_stderr_and_goes_on(
    ledger: Path, run_logbook: Callable[..., Ran]
) -> None:
    before = ledger.read_bytes()
    assert run_logbook("note", "x").err == ""
    ledger.write_bytes(before)
    for _ in range(2):
        ran = run_logbook("staff", "list")
        assert ran.code == 0
        assert "This ledger is older than the one used here before" in ran.err
        assert "KO" in ran.out


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"entries":"x","head":1}', '{"entries":3}', '{"entries":3,"head":"z"}']
)
def test_a_spoilt_memory_counts_as_none(ledger: Path, memory: Memory, text: str) -> None:
    assert seen(memory, ledger) is None
    for kept in memory.folder.iterdir():
        kept.write_text(text)
    assert memory.recall(elsewhere_uuid(ledger)) == (0, "")
    assert seen(memory, ledger) is None


def test_a_computer_that_can_keep_nothing_goes_without(ledger: Path, tmp_path: Path) -> None:
    (tmp_path / "seen").write_text("a file where the folder should be")
    assert seen(Memory(tmp_path / "seen"), ledger) is None


def test_the_identity_of_a_foreign_file_leads_to_no_other_folder(
    ledger: Path, tmp_path: Path, memory: Memory
) -> None:
    tamper(ledger, "UPDATE ledger SET uuid = '../../stolen'")
    seen(memory, ledger)
    assert not list(tmp_path.glob("stolen*"))
    assert [one.parent for one in memory.folder.rglob("*stolen*")] == [memory.folder]


# Where a ledger lies


@pytest.mark.parametrize(
    ("mounts", "warned"),
    [
        ("/dev/sda1 / ext4 rw 0 0\n", None),
        ("/dev/sda1 / ext4 rw 0 0\nserver:/x {here} nfs4 rw 0 0\n", "nfs4"),
        ("//server/x {above} cifs rw 0 0\n/dev/sdb1 {here} ext4 rw 0 0\n", None),
        ("/dev/sda1 / ext4 rw 0 0\n//server/x {above} cifs rw 0 0\n", "cifs"),
        ("drive {above} fuse.drive rw 0 0\n", "fuse.drive"),
        ("server:/x {beside} nfs rw 0 0\n", None),
        ("nonsense\n\n", None),
        (None, None),
    ],
)
def test_a_ledger_on_a_network_folder_is_warned_of(
    tmp_path: Path, mounts: str | None, warned: str | None
) -> None:
    here = tmp_path / "share"
    here.mkdir()
    table = tmp_path / "mounts"
    if mounts is not None:
        table.write_text(mounts.format(here=here, above=tmp_path, beside=f"{here}2"))
    told = place_warning(here / "clinic.ledger", table)
    if warned is None:
        assert told is None
    else:
        assert f"network file system ({warned})" in (told or "")


def test_a_folder_with_copies_in_conflict_is_warned_of(tmp_path: Path) -> None:
    table = tmp_path / "mounts"
    table.write_text("/dev/sda1 / ext4 rw 0 0\n")
    (tmp_path / "clinic (conflicted copy).ledger").touch()
    assert "looks synchronised" in (place_warning(tmp_path / "clinic.ledger", table) or "")
    assert place_warning(tmp_path / "other.ledger", table) is None


# The program for strangers

SOURCE = Path(stranger.__file__).read_text("utf-8")
VECTORS = dict(re.findall(r"h\((\d)\) = ([0-9a-f]{64})", stranger.__doc__ or ""))
UTC_TIME, WALL_TIME = "2026-03-02T14:30:00Z", "2026-03-02T07:30:00-07:00"
ENTRY = (
    "00000000-0000-4000-8000-000000000001", "note",
    UTC_TIME, WALL_TIME, UTC_TIME, WALL_TIME, "KO",
)  # fmt: skip
BODY = '{"text":"first"}'


def test_the_vectors_of_its_text_are_what_it_and_the_program_compute() -> None:
    assert VECTORS.keys() == {"0", "1"}
    assert stranger.genesis(UUID) == genesis_hash(UUID) == VECTORS["0"]
    row = Stored(1, *ENTRY, BODY)
    assert stranger.link(VECTORS["0"], 1, ENTRY, BODY) == VECTORS["1"]
    assert link_hash(VECTORS["0"], row) == VECTORS["1"]
    for told in (*ENTRY, BODY, UUID):
        assert told in SOURCE.split('"""')[1]


def test_it_imports_nothing_but_the_standard_library() -> None:
    imported = {
        name.partition(".")[0]
        for node in ast.walk(ast.parse(SOURCE))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in (
            [one.name for one in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
        )
    }
    assert imported
    assert imported <= sys.stdlib_module_names


def test_it_is_short_enough_to_be_read() -> None:
    assert len(SOURCE.splitlines()) < 190


def alone(*words: str) -> subprocess.CompletedProcess[str]:
    """Run it as a stranger does: without this project anywhere near."""
    command = [sys.executable, "-I", "-S", stranger.__file__, *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_it_runs_alone_and_tells_count_and_head(ledger: Path) -> None:
    with writing(ledger) as book:
        busy_week(Scribe(book))
    count, last = head_of(ledger)
    done = alone(str(ledger))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == f"Verified: {count} entries, head {last}\n"
    assert alone(str(ledger), last).returncode == 0
    assert alone(str(ledger), " ".join(re.findall("....", last.upper()))).returncode == 0
    missing = alone(str(ledger), "0" * 64)
    assert (missing.returncode, missing.stdout[:12]) == (4, "NOT VERIFIED")


def test_its_guards_are_those_of_the_program(ledger: Path) -> None:
    for name in GUARDS:
        copy = Path(shutil.copy(ledger, ledger.with_name("copy.ledger")))
        with closing(sqlite3.connect(copy)) as raw:
            raw.execute(f"DROP TRIGGER {name}")
        assert stranger.main([str(copy)]) == 4
    assert stranger.main([str(ledger)]) == 0


def test_used_wrongly_it_shows_how_to_use_it() -> None:
    for words in ((), ("no-such-file",), ("a", "b", "c")):
        done = alone(*words)
        assert (done.returncode, done.stdout) == (2, "")
        assert "verify_standalone.py LEDGER|PACK [HEAD]" in done.stderr
