"""Backup and restore: copies through SQLite, verified before anybody relies on them."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from itertools import chain, count
from pathlib import Path

from sqlalchemy import select

from logbook.clock import refuse_clock
from logbook.deed import last_step
from logbook.entries.book import Restore
from logbook.errors import Act, InputError, LedgerError, LogbookError, NotSaved, Trouble
from logbook.ledger.connect import (
    copy_pages,
    engine_for,
    errors_in_words,
    play_back,
    writers_held_off,
)
from logbook.ledger.copying import copied
from logbook.ledger.disk import (
    keep_rights,
    names_held,
    private_file,
    side_files,
    sync_folder,
    take_name,
)
from logbook.ledger.file import (
    left_wal,
    new_file,
    odd_neighbour,
    real_path,
    refuse,
    same_file,
    second_name,
)
from logbook.ledger.recovery import foreign_journal, recover
from logbook.ledger.schema import entry
from logbook.ledger.store import Draft, head, new_id
from logbook.proof.checkpoint import Checkpoint
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
    path = real_path(path)
    refuse(odd_neighbour(path))
    recover(path)
    with new_file(target, "a backup") as part:
        copy_pages(path, part, target)
        return _whole(part, str(path), f"the copy of {path.name}")


def _whole(path: Path, name: str, what: str) -> Checkpoint:
    """Where a file stands that is whole; ``name`` is that of the file which it is a copy of."""
    told: Verified = verify(path, name=name)
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
    _refuse_source(path, source)
    with copied(source) as copy:
        return _plan(path, copy, source, memory)


def _refuse_source(path: Path, source: Path) -> None:
    if not source.is_file():
        raise InputError(f"there is no backup at {source}", act=Act.BACK_UP)
    if path.exists() and path.samefile(source):
        raise InputError(f"{source} is the ledger itself; name a backup")
    refuse(left_wal(source))


def _plan(path: Path, copy: Path, source: Path, memory: Memory) -> RestorePlan:
    """What it comes to where a copy of the backup takes the ledger's place."""
    play_back(copy)  # The backup may have a journal of its own.
    told = _whole(copy, str(source), f"the backup {source.name}")
    count, last = max(memory.recall(told.ledger), _present(path, told), key=lambda one: one[0])
    if count > told.entries:
        return RestorePlan(told, count - told.entries, last)
    if count and not _holds(copy, count, last):
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
    refuse_clock(now)
    path = real_path(path)
    _refuse_source(path, source)
    stood_there = _identity(path)
    if stood_there:
        refuse(second_name(path))  # The restored file would have only one of the names.
        refuse(foreign_journal(path))  # To lock the file would play it back.
    with (
        copied(source) as copy,
        _writers_locked_out(path),
        private_file(path.parent, path.name) as part,
    ):
        plan = _plan(path, copy, source, memory)
        copy_pages(copy, part, path)
        saved = _declare(part, plan, reason, by, now)
        with last_step():
            aside = _change_places(part, path, stood_there, now)
    sync_folder(path.parent)
    with suppress(LogbookError), reading(path) as book:
        # Whoever restores here knows of the gap: this computer need not warn of it.
        memory.remember(plan.source.ledger, *head(book.connection))
        memory.remember_place(path, plan.source.ledger)
    return plan, saved, aside


def _change_places(
    part: Path, path: Path, stood_there: tuple[int, int] | None, now: datetime
) -> Path | None:
    """Set the present file aside and give the new one its name; answer where the old one is."""
    with names_held(path.parent):
        if _identity(path) != stood_there:
            raise NotSaved(
                f"{path} was replaced meanwhile, as a restore does; try again", Trouble.REPLACED
            )
        aside = _set_aside(path, now)
        if aside is not None:
            keep_rights(aside, part)
            part.replace(path)
            return aside
    try:
        take_name(part, path)
    except FileExistsError:
        raise NotSaved(f"{path} came into being meanwhile; look what it is first") from None
    return None


def _identity(path: Path) -> tuple[int, int] | None:
    """Which file stands at a path; None where none does."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


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

    What lies beside goes with it: left beside the restored file it would be played into that.
    """
    start = f"{path.name}.replaced-"
    for left in same_file(path, start) if path.exists() else ():
        left.unlink()  # A restore was killed between giving the second name and the first.
    aside = _free_name(path.with_name(f"{start}{now:%Y%m%dT%H%M%SZ}"))
    stands = path.exists()
    if stands:
        _keep_as(path, aside)
    for beside, away in zip(side_files(path), side_files(aside), strict=True):
        with suppress(FileNotFoundError):
            beside.rename(away)
    return aside if stands else None


def _keep_as(path: Path, aside: Path) -> None:
    """A second name for a file; where a disk knows no links, a copy of it; where that cannot be
    read, the file itself."""
    try:
        os.link(path, aside)
    except OSError:
        try:
            with private_file(path.parent, path.name) as part:
                copy_pages(path, part, aside)
                keep_rights(path, part)
                part.rename(aside)
        except LedgerError:
            path.rename(aside)


def _free_name(wanted: Path) -> Path:
    """The name, or where it or what lies beside it is taken, the next one by number."""
    numbered = (wanted.with_name(f"{wanted.name}-{number}") for number in count(2))
    return next(
        one
        for one in chain([wanted], numbered)
        if not any(os.path.lexists(each) for each in (one, *side_files(one)))
    )
