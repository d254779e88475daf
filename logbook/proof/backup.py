"""Backup and restore: copies through SQLite, verified before anybody relies on them."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import select

from logbook.deed import last_step
from logbook.entries.book import Restore
from logbook.errors import InputError, LedgerError, LogbookError
from logbook.ledger.connect import engine_for, errors_in_words
from logbook.ledger.disk import remove_quietly, sync_folder
from logbook.ledger.schema import entry
from logbook.ledger.store import Draft, head, new_id
from logbook.proof.checkpoint import Checkpoint
from logbook.proof.copying import journal_of, writers_held_off
from logbook.proof.seen import Memory
from logbook.proof.verify import Verified, verify
from logbook.recording.opening import reading, writing
from logbook.recording.record import Saved, record


def backup(path: Path, target: Path) -> Checkpoint:
    """Copy a ledger while it may be in use, verify the copy, and only then give it its name.

    Raises:
        InputError: something stands at the target already, or its folder is missing.
        LedgerError: the copy does not verify; it is not kept.
    """
    part = target.parent / f"{target.name}.part"
    remove_quietly(
        part
    )  # What a crash left, also where the crash came after the copy had its name.
    _free(target)
    try:
        _copy(path, part)
        told = _whole(part, f"the copy of {path.name}")
        with last_step():
            _name(part, target)
    finally:
        remove_quietly(part)
    sync_folder(target.parent)
    return told


def _free(target: Path) -> None:
    if target.exists():
        raise InputError(f"{target} exists already; a backup never replaces a file")
    if not target.parent.is_dir():
        raise InputError(f"the folder {target.parent} does not exist; make it first")


def _copy(path: Path, target: Path) -> None:
    with (
        errors_in_words(path),
        closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True)) as source,
        closing(sqlite3.connect(target)) as copy,
    ):
        source.backup(copy)
    with target.open("rb") as file:
        os.fsync(file.fileno())


def _name(part: Path, target: Path) -> None:
    """Give the copy its name. Unlike a rename, a link fails where the name was taken meanwhile;
    where there are no links, an empty file that is ours keeps the name free."""
    try:
        try:
            os.link(part, target)
        except FileExistsError:
            raise
        except OSError:
            target.open("xb").close()
            part.replace(target)
    except FileExistsError:
        raise InputError(f"{target} exists already; a backup never replaces a file") from None


def _whole(path: Path, what: str) -> Checkpoint:
    told: Verified = verify(path)
    if told.findings or told.checkpoint is None:
        raise LedgerError(f"{what} does not verify: {told.findings[0].sentence}")
    return told.checkpoint


@dataclass(frozen=True, slots=True)
class RestorePlan:
    """What a restore would do: the checkpoint it comes from, and what is known to be lost.

    ``lost_entries`` is None where nobody knows: the present file cannot be read or is another
    ledger, or what was seen here is no continuation of the backup. ``lost_head`` is the last head
    that was seen and that the backup lacks.
    """

    source: Checkpoint
    lost_entries: int | None
    lost_head: str | None


def plan_restore(path: Path, source: Path, memory: Memory) -> RestorePlan:
    """Look at both files, and at what this computer saw before; nothing is written.

    Raises:
        InputError: there is no such backup, or it is the ledger itself.
        LedgerError: the backup does not verify.
    """
    if not source.is_file():
        raise InputError(f"there is no backup at {source}; name a file made by: logbook backup")
    if path.exists() and path.samefile(source):
        raise InputError(f"{source} is the ledger itself; name a backup")
    told = _whole(source, f"the backup {source.name}")
    count, last = max(memory.recall(told.ledger), _present(path, told), key=lambda one: one[0])
    if count > told.entries:
        return RestorePlan(told, count - told.entries, last)
    if count and not _holds(source, count, last):
        # What was seen went another way than the backup; how far is known to nobody.
        return RestorePlan(told, None, last)
    return RestorePlan(told, 0 if count == told.entries else None, None)


def _holds(path: Path, seq: int, last: str) -> bool:
    """Whether an entry of a file has a hash."""
    query = select(entry.c.hash).where(entry.c.seq == seq)
    with errors_in_words(path), engine_for(path, writes=False).begin() as connection:
        return bool(connection.execute(query).scalar() == last)


def _present(path: Path, source: Checkpoint) -> tuple[int, str]:
    """Count and head of the present file, where it still is the same ledger and can be read."""
    with suppress(Exception):
        if _holds(path, source.entries, source.head):
            with engine_for(path, writes=False).begin() as connection:
                return head(connection)
    return 0, ""


def restore(
    path: Path, source: Path, memory: Memory, *, reason: str, by: str, now: datetime
) -> tuple[RestorePlan, Saved, Path | None]:
    """Put a backup in the ledger's place and record that it was done.

    The present file keeps standing under another name, never deleted. The restored copy carries
    its entry of the restore before it takes the ledger's name, so that no moment shows a gap
    undeclared; and nobody writes to the present file once its entries are counted.
    """
    part = path.with_name(path.name + ".restoring")
    part.unlink(missing_ok=True)
    with _writers_locked_out(path):
        plan = plan_restore(path, source, memory)
        try:
            _copy(source, part)
            saved = _declare(part, plan, reason, by, now)
            with last_step():
                aside = _set_aside(path, now)
                part.replace(path)
        finally:
            remove_quietly(part)
    sync_folder(path.parent)
    with suppress(LogbookError), reading(path) as book:
        # Whoever restores here knows of the gap: this computer need not warn of it.
        memory.remember(plan.source.ledger, *head(book.connection))
    return plan, saved, aside


@contextmanager
def _writers_locked_out(path: Path) -> Iterator[None]:
    """A writer who waits finds the file moved, saves nothing, and is told to try again.

    Where the system does not rename what is open, nobody is locked out.
    """
    if os.name != "posix" or not path.exists():
        yield
        return
    with writers_held_off(path, mode="rw", begin="BEGIN IMMEDIATE"):
        yield


def _declare(part: Path, plan: RestorePlan, reason: str, by: str, now: datetime) -> Saved:
    body = Restore.of(
        from_entries=plan.source.entries,
        from_head=plan.source.head,
        lost_entries=plan.lost_entries,
        lost_head=plan.lost_head,
        reason=reason,
    )
    with writing(part) as book:
        return record(book, Draft(body, now, by, new_id()), now)


def _set_aside(path: Path, now: datetime) -> Path | None:
    """Give the present file a second name, so that at no moment the ledger's name is without one.

    A journal goes with it: left beside the restored file it would be played into that.
    """
    aside = path.with_name(f"{path.name}.replaced-{now:%Y%m%dT%H%M%SZ}")
    if aside.exists():
        raise InputError(f"{aside} exists already; move it away first")
    if journal_of(path).exists():
        journal_of(path).rename(journal_of(aside))
    if not path.exists():
        return None
    try:
        os.link(path, aside)
    except OSError:
        path.rename(aside)
    return aside
