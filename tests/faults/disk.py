"""A disk that loses power: the calls of a program, recorded, and the states they may leave behind.

The model is the harshest that a program may meet. Until a file is synced, each of its sectors of
512 bytes may be new, or as old as it last was; until a folder is synced, each of its names may be
there or not. What was synced stays.
"""

import random
import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512
CALLS = (
    "openat,pwrite64,pwritev,write,fsync,fdatasync,ftruncate,truncate,unlink,unlinkat,rename,"
    "renameat,renameat2,link,linkat,sendfile,copy_file_range"
)
_LINE = re.compile(r"(\w+)\((.*)\)\s+= (-?\d+)")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
_HANDLE = re.compile(r"^(\d+)<((?:\\x[0-9a-f]{2})*)>")


@dataclass(frozen=True)
class Event:
    """One call: what it did to which file. ``other`` is the second name of a rename or link."""

    what: str
    path: str = ""
    other: str = ""
    offset: int = 0
    data: bytes = b""


def record(command: list[str], folder: Path, trace: Path) -> list[Event]:
    """Run a program under strace; answer all that it did to the files of a folder, and said."""
    strace = ["strace", "-qq", "-y", "-xx", "-s", "100000000", "-e", f"trace={CALLS}"]
    done = subprocess.run(
        [*strace, "-o", trace, *command], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    with trace.open(encoding="ascii") as lines:
        events = [event for line in lines for event in _events(line, str(folder))]
    assert any(event.what == "write" for event in events), "nothing was recorded"
    return events


def _events(line: str, folder: str) -> Iterator[Event]:
    """What one line of the trace did, where it succeeded."""
    parsed = _LINE.search(line)
    if not parsed or int(parsed[3]) < 0:
        return
    call, told = parsed[1], parsed[2]
    texts = [bytes.fromhex(one.replace("\\x", "")) for one in _TEXT.findall(told)]
    handle = _HANDLE.match(told)
    if call == "write" and handle and handle[1] in "12":
        yield Event("say", path=handle[1], data=texts[0])
        return
    named = call in ("openat", "unlink", "rename", "link")
    path = bytes.fromhex(handle[2].replace("\\x", "")) if handle and not named else texts[0]
    if path == folder.encode() or path.startswith(folder.encode() + b"/"):
        yield from _changes(call, path.decode(), told, texts)


def _changes(call: str, path: str, told: str, texts: list[bytes]) -> Iterator[Event]:
    """What a call did to a path of the folder."""
    if call == "openat":
        if "O_CREAT" in told:
            yield Event("create", path)
        if "O_TRUNC" in told:
            yield Event("truncate", path)
    elif call == "pwrite64":
        yield Event("write", path, offset=int(told.rsplit(", ", 1)[1]), data=texts[0])
    elif call == "write":  # A small file, which is written once and from its beginning.
        yield Event("write", path, data=texts[0])
    elif call == "ftruncate":
        yield Event("truncate", path, offset=int(told.rsplit(", ", 1)[1]))
    elif call in ("fsync", "fdatasync"):
        yield Event("sync", path)
    elif call in ("unlink", "rename", "link"):
        yield Event(call, path, other=texts[1].decode() if len(texts) > 1 else "")
    else:
        raise AssertionError(f"the disk knows no {call}: {told[:200]}")


@dataclass
class File:
    """What the disk surely holds of a file, and what was done to it since."""

    held: bytes = b""
    waiting: list[Event] = field(default_factory=list)

    def synced(self) -> None:
        """All that was done is held."""
        self.held, self.waiting = self.after(1.0, random.Random(0)), []  # noqa: S311

    def after(self, kept: float, chance: random.Random) -> bytes:
        """The file after a power cut: each sector that waits is kept with a chance of ``kept``."""
        content = bytearray(self.held)
        for event in self.waiting:
            if event.what == "truncate":
                if chance.random() < kept:
                    del content[event.offset :]
                continue
            for at, piece in _sectors(event):
                if chance.random() < kept:
                    content.extend(b"\0" * (at - len(content)))
                    content[at : at + len(piece)] = piece
        return bytes(content)


def _sectors(event: Event) -> Iterator[tuple[int, bytes]]:
    """What is written, cut where sectors end."""
    at, end = event.offset, event.offset + len(event.data)
    while at < end:
        upto = min(end, (at // SECTOR + 1) * SECTOR)
        yield at, event.data[at - event.offset : upto - event.offset]
        at = upto


Names = dict[str, File | None]


class Disk:
    """A folder's files as a program changes them."""

    def __init__(self, folder: Path) -> None:
        self._folder = str(folder)
        self._held: Names = {str(one): File(one.read_bytes()) for one in folder.iterdir()}
        self._waiting: list[Names] = []

    def _now(self) -> Names:
        names = dict(self._held)
        for change in self._waiting:
            names.update(change)
        return names

    def do(self, event: Event) -> None:
        """Let one call happen."""
        file = self._now().get(event.path)
        if event.what == "create" and file is None:
            self._waiting.append({event.path: File()})
        elif event.what == "unlink":
            self._waiting.append({event.path: None})
        elif event.what == "rename":
            self._waiting.append({event.path: None, event.other: file})
        elif event.what == "link":
            self._waiting.append({event.other: file})
        elif event.what == "sync" and event.path == self._folder:
            self._held, self._waiting = self._now(), []
        elif event.what == "sync" and file:
            file.synced()
        elif event.what in ("write", "truncate"):
            assert file is not None, event.path
            file.waiting.append(event)

    def power_cut(self, chance: random.Random) -> dict[str, bytes]:
        """One state in which the folder may be found: the names of its files and their bytes."""
        kept = chance.choice((0.0, 0.1, 0.5, 0.9, 1.0))
        names = dict(self._held)
        for change in self._waiting:
            if chance.random() < kept:
                names.update(change)
        kept = chance.choice((0.0, 0.1, 0.5, 0.9, 1.0))
        return {name: file.after(kept, chance) for name, file in names.items() if file}
