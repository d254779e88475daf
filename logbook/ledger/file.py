"""The file that a ledger is: its one path, its one name, and what lies beside it."""

import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from logbook.deed import last_step
from logbook.errors import InputError, LedgerError
from logbook.ledger.disk import PART, PRIVATE, SIDES, private_file, side_files, sweep, take_name

FOR_THE_GROUP = stat.S_IRWXG | stat.S_ISGID
"""The rights of a folder in which a group works: what one makes there belongs to the group."""


def real_path(path: Path) -> Path:
    """Where a ledger lies: a link is followed once, so that all that is done beside the file is
    done at one place."""
    return Path(os.path.realpath(path)) if path.is_symlink() else path


def refuse_side_name(path: Path) -> None:
    """Refuse a name under which SQLite would take a new file for a part of another one."""
    for end in SIDES:
        if path.name.lower().endswith(end):
            raise InputError(
                f"{path} ends in {end}, by which a ledger's file is put right after a crash; "
                "choose another name"
            )


@contextmanager
def new_file(target: Path, what: str, rights: int = PRIVATE) -> Iterator[Path]:
    """An empty file to be filled, which at the end takes the name of ``target``, whole.

    Where anything goes wrong nothing of it stays. ``what`` says in words what it will be.

    Raises:
        InputError: something stands at the target or beside it, or its folder is missing.
    """
    refuse_side_name(target)
    if not target.parent.is_dir():
        raise InputError(f"the folder {target.parent} does not exist; make it first")
    sweep(target.parent, target.name)
    taken = f"{target} exists already; {what} never replaces a file"
    if os.path.lexists(target):
        raise InputError(taken)
    for side in side_files(target):
        if os.path.lexists(side):
            # SQLite would play it into the new file and spoil it.
            raise InputError(
                f"{side} is what a crash left of another ledger; move it to where that ledger is"
            )
    with private_file(target.parent, target.name) as part:
        yield part
        if rights != PRIVATE:
            part.chmod(rights)
        try:
            with last_step():
                take_name(part, target)
        except FileExistsError:
            raise InputError(taken) from None


def who_shares(path: Path) -> str:
    """Who reads and writes a file that is shared, and what its folder lacks for that, in words."""
    found, folder = path.stat(), path.parent.stat()
    told = f"The members of the group {_group(found.st_gid)} read and write this ledger."
    # Each of them makes files beside it, which the others must be able to play back.
    if folder.st_mode & FOR_THE_GROUP == FOR_THE_GROUP:
        return told
    return (
        f"{told} Its folder does not let them yet: give {path.parent} to that group, "
        "then: chmod g+rwxs FOLDER."
    )


def _group(number: int) -> str:
    if sys.platform == "win32":
        return str(number)
    import grp

    try:
        return grp.getgrgid(number).gr_name
    except KeyError:
        return str(number)


def odd_neighbour(path: Path) -> str | None:
    """What would spoil a ledger when it is opened, in a sentence with what to do; else None."""
    return left_wal(path) or second_name(path)


def left_wal(path: Path) -> str | None:
    """Whether another program's way of writing left entries of its own beside the file."""
    wal = path.with_name(path.name + "-wal")
    if not _size(wal):
        return None
    return (
        f"{wal} was left by another program and would change the ledger; close that program, "
        f"and where the file stays, copy both to another folder, move {wal.name} away, "
        "and verify the ledger"
    )


def second_name(path: Path) -> str | None:
    """Whether the file has another name than those that our own commands give it in passing."""
    found = path.stat()
    if found.st_nlink < 2:
        return None
    ours = [*same_file(path, f"{path.name}.replaced-"), *_parts(path, found)]
    if found.st_nlink - len(ours) < 2:
        return None
    return (
        f"{path} has a second name (a hard link), and what a crash leaves under one name is "
        "missed under the other; take the other name away, or make it a copy"
    )


def refuse(sentence: str | None) -> None:
    """Raise what was found, if anything was.

    Raises:
        LedgerError: opening the file would spoil it.
    """
    if sentence:
        raise LedgerError(sentence)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _parts(path: Path, found: os.stat_result) -> list[Path]:
    places = [one for one in path.parent.iterdir() if one.name.startswith(f".{path.name}.part-")]
    return [place / PART for place in places if _is(place / PART, found)]


def same_file(path: Path, start: str) -> list[Path]:
    """The other names of a file, in its folder, that begin so."""
    found = path.stat()
    names = [one for one in path.parent.iterdir() if one.name.startswith(start)]
    return [one for one in names if _is(one, found)]


def _is(path: Path, found: os.stat_result) -> bool:
    try:
        return os.path.samestat(path.lstat(), found)
    except OSError:
        return False
