"""What the disk must hold before anybody is told that something is saved, what it need not, and
what nobody else may read."""

import os
import stat
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

from logbook.errors import NotSaved

if sys.platform != "win32":
    import fcntl

ALONE = 0o700
"""The rights of a folder of a person's own: nobody else can see into it."""
PRIVATE, SHARED = 0o600, 0o660
"""The rights of a file for its owner alone, and of one that a group works on."""
SIDES = ("-journal", "-wal", "-shm")
"""What SQLite keeps beside a file, by the end of its name."""
PART = "ledger"
"""How a file is called before it has its name."""
SWEPT = range(1, 10)
"""The numbers of private folders that are looked for; so many commands never run at once."""


def sync_folder(folder: Path) -> None:
    """Wait until the disk holds the names of a folder; without it a power cut may undo them."""
    with suppress(OSError):  # Some systems know no such thing for a folder.
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def sync_file(path: Path) -> None:
    """Wait until the disk holds what was written to a file."""
    with path.open("rb") as file:
        os.fsync(file.fileno())


def keep_rights(path: Path, part: Path) -> None:
    """Give a file that takes another's place, or stands beside it, the rights of that one."""
    with suppress(OSError):  # Whoever may not do so keeps the file to themselves.
        found = path.stat()
        os.chown(part, -1, found.st_gid)
        part.chmod(stat.S_IMODE(found.st_mode))


def remove_quietly(part: Path) -> None:
    """Leave no half file behind. A disk that refuses it does not undo what was done before."""
    with suppress(OSError):
        part.unlink(missing_ok=True)


def private_folder(folder: Path) -> None:
    """Make a folder, and those above it that are missing, into which nobody else can see.

    Raises:
        OSError: it cannot be made; one that stands there already keeps its rights.
    """
    if not folder.is_dir():
        private_folder(folder.parent)
        folder.mkdir(ALONE, exist_ok=True)


def write_private(path: Path, text: str) -> None:
    """Put a small file in its place, whole and on the disk or not at all; only its owner reads it.

    Raises:
        OSError: it cannot be written; what stood there still does.
    """
    # Its own name, made exclusively: whatever lies there is neither followed nor replaced.
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    except BaseException:
        remove_quietly(Path(name))
        raise
    sync_folder(path.parent)


def side_files(path: Path) -> list[Path]:
    """Where SQLite keeps what a crash would need to be undone or done."""
    return [path.with_name(path.name + end) for end in SIDES]


@contextmanager
def private_file(folder: Path, name: str) -> Iterator[Path]:
    """An empty file, and its maker's alone, to be filled and then given a name in ``folder``.

    It lies in a private folder, with all that SQLite makes beside it; both are made exclusively,
    and taken away at the end. What killed commands left under the same name is taken away first.

    Raises:
        OSError: nothing can be made there.
    """
    sweep(folder, name)
    place, lock = _private_place(folder, name)
    part = place / PART
    try:
        os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, PRIVATE))
        yield part
    finally:
        _clear(place)
        if lock is not None:
            os.close(lock)


def sweep(folder: Path, name: str) -> None:
    """Take away what killed commands left; those that still run hold a lock on theirs."""
    for number in SWEPT:
        place = _place(folder, name, number)
        with suppress(OSError):
            lock = _locked(place)
            if os.fstat(lock).st_uid == os.geteuid():
                _clear(place)
            os.close(lock)


def temporary_place() -> tuple[Path, str]:
    """The folder for copies in passing, and the name under which this person's lie there."""
    who = os.geteuid() if sys.platform != "win32" else ""
    return Path(tempfile.gettempdir()), f"gas-machine-logbook-{who}"


def _place(folder: Path, name: str, number: int) -> Path:
    return folder / f".{name}.part-{number}"


def _private_place(folder: Path, name: str) -> tuple[Path, int | None]:
    """A folder that was not there before, and what holds the lock on it: None where the system
    knows no lock on a folder, so that nobody sweeps it either."""
    for number in count(1):
        place = _place(folder, name, number)
        with suppress(FileExistsError):
            place.mkdir(ALONE)
            try:
                return place, _locked(place)
            except (BlockingIOError, FileNotFoundError):
                continue  # Somebody swept it before it was locked.
            except OSError:
                return place, None
    raise AssertionError("numbers do not end")


def _locked(folder: Path) -> int:
    """Hold a lock on a folder until the handle is closed or the program dies.

    Raises:
        BlockingIOError: somebody else holds it.
        FileNotFoundError: it was taken away meanwhile.
        OSError: the system knows no such lock.
    """
    if sys.platform == "win32":
        raise OSError("folders are not locked here")
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        if not os.path.samestat(os.fstat(handle), folder.stat()):
            raise FileNotFoundError(folder)
    except BaseException:
        os.close(handle)
        raise
    return handle


def _clear(place: Path) -> None:
    """Take away a private folder and what the program makes in it, and nothing else."""
    with suppress(OSError):
        for one in place.iterdir():
            if one.is_dir() and not one.is_symlink():
                _clear(one)
            elif one.name.startswith(PART):
                remove_quietly(one)
        place.rmdir()


@contextmanager
def names_held(folder: Path) -> Iterator[None]:
    """One command at a time gives and takes names in a folder, where looking comes before doing.

    Raises:
        NotSaved: another command is at it.
    """
    lock = None
    try:
        lock = _locked(folder)
    except BlockingIOError:
        raise NotSaved(f"another command puts a file in its place in {folder}; try again") from None
    except OSError:
        pass  # Where the system knows no such lock, looking has to do.
    try:
        yield
    finally:
        if lock is not None:
            os.close(lock)


def take_name(part: Path, target: Path) -> None:
    """Give a whole file its name, unless another has it: at no moment a half one stands there.

    Raises:
        FileExistsError: the name is taken, be it by a link that leads nowhere.
        NotSaved: another command gives a name there, on a disk without links.
    """
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError:  # Some disks, such as those of a camera's card, know no links.
        with names_held(target.parent):
            if os.path.lexists(target):
                raise FileExistsError(target) from None
            part.rename(target)
    sync_folder(target.parent)
