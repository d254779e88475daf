"""A checkpoint: how far a ledger had come at a moment, short enough to print on paper.

Whoever holds one can show later that everything up to it still stands as it stood then.
"""

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, select

from logbook import __version__
from logbook.errors import InputError
from logbook.ledger.chain import genesis_hash
from logbook.ledger.kept import read_small
from logbook.ledger.schema import entry
from logbook.ledger.store import ledger_uuid, stand
from logbook.times import utc_text
from logbook.units import shown

TITLE = "gas-machine logbook checkpoint"
_HEX = re.compile(r"[0-9a-f]{64}")
_SHORT = re.compile(r"(?P<ledger>[0-9a-f-]{36}) (?P<entries>[0-9]{1,15}) (?P<head>[0-9a-f]{64})")


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The ledger's identity, the number of entries, and the hash of the last one (64 digits)."""

    ledger: str
    entries: int
    head: str
    written_at: datetime
    program: str

    @property
    def groups(self) -> str:
        """The head in groups of four, so that a person can compare it."""
        return " ".join(self.head[at : at + 4] for at in range(0, 64, 4))

    def line(self) -> str:
        """One line for the foot of a sheet, which says what it is good for."""
        return (
            "To show later that nothing was changed, keep this checkpoint: "
            f"ledger {self.ledger}, {self.entries} entries, head {self.groups}"
        )

    def short(self) -> str:
        """Ledger, number of entries and head in three words, as a code on paper holds them."""
        return f"{self.ledger} {self.entries} {self.head}"

    def text(self, *, dated: bool = True) -> str:
        """Lines for paper or a file of its own; those that are not ``dated`` are the same for the
        same ledger whenever they are written."""
        rows = {"ledger": self.ledger, "entries": str(self.entries), "head": self.groups}
        if dated:
            rows |= {"written": utc_text(self.written_at), "program": self.program}
        return "\n".join([TITLE, *(f"{name}: {value}" for name, value in rows.items())]) + "\n"


def checkpoint(connection: Connection, now: datetime) -> Checkpoint:
    """Where the ledger stands."""
    at = stand(connection)
    return Checkpoint(at.ledger, at.entries, at.head, now, __version__)


@dataclass(frozen=True, slots=True)
class Expected:
    """What a ledger is held against: a head, and where it is known its number and ledger."""

    head: str
    entries: int | None = None
    ledger: str | None = None


def read_expected(text: str) -> Expected:
    """A head typed by hand, what a code on paper holds, or the text of a checkpoint; ``text`` may
    be a file's path.

    Raises:
        InputError: it is neither.
    """
    bare = "".join(text.split()).lower()
    if _HEX.fullmatch(bare):
        return Expected(bare)
    if code := _SHORT.fullmatch(text.strip()):
        return Expected(code["head"], int(code["entries"]), code["ledger"])
    lines = (read_small(Path(text)) or "").splitlines()
    told = dict(line.split(": ", 1) for line in lines if ": " in line)
    groups = "".join(told.get("head", "").split()).lower()
    if not lines or lines[0] != TITLE or not _HEX.fullmatch(groups):
        raise InputError(
            f"{shown(text)} is no checkpoint; give its file, or the 64 digits of its head"
        )
    count = told.get("entries", "")
    number = int(count) if count.isascii() and count.isdigit() and len(count) < 16 else None
    return Expected(groups, number, told.get("ledger"))


def finding_against(connection: Connection, expected: Expected) -> str | None:
    """None where the ledger contains what is expected; else what differs, in a sentence."""
    uuid = ledger_uuid(connection)
    if expected.ledger is not None and expected.ledger != uuid:
        return f"the checkpoint belongs to ledger {expected.ledger}, this is {uuid}"
    query = select(entry.c.seq).where(entry.c.hash == expected.head)
    # A ledger without entries has a head, too: the hash that its first entry will continue.
    found = 0 if expected.head == genesis_hash(uuid) else connection.execute(query).scalar()
    if found is None:
        where = f" (its entry {expected.entries})" if expected.entries else ""
        return f"the checkpoint's head{where} is not in this ledger: it was changed or is older"
    if expected.entries is not None and found != expected.entries:
        return f"the checkpoint counts {expected.entries} entries, here its head is entry {found}"
    return None
