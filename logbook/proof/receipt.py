"""Receipts: what a centre took over, so that a site can prove later what it handed in."""

import json
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection

from logbook.errors import Act, InputError, LedgerError, LogbookError
from logbook.ledger.disk import write_private
from logbook.ledger.file import real_path
from logbook.ledger.kept import read_small
from logbook.ledger.store import ledger_uuid
from logbook.proof.segment import hash_at
from logbook.times import utc_parse, utc_text

TITLE = "gas-machine-logbook receipt v1"


@dataclass(frozen=True, slots=True)
class Receipt:
    """The centre holds the first ``entries`` entries of a ledger, up to the hash ``head``."""

    ledger: str
    entries: int
    head: str
    at: datetime

    def text(self) -> str:
        """The lines that are signed, each with its line feed."""
        lines = (TITLE, self.ledger, str(self.entries), self.head, utc_text(self.at))
        return "".join(f"{line}\n" for line in lines)

    @classmethod
    def read(cls, text: str) -> "Receipt":
        """The receipt of such lines.

        Raises:
            InputError: they are no receipt.
        """
        with suppress(ValueError, InputError):
            title, ledger, entries, head, at = text.splitlines()
            one = cls(ledger, int(entries), head, utc_parse(at))
            if title == TITLE and one.entries >= 0 and one.text() == text:
                return one
        raise InputError("that is no receipt of a centre", "name the file that the centre gave")


@dataclass(frozen=True, slots=True)
class Kept:
    """The newest receipt of a ledger, and the public key of the centre that signed it."""

    centre: str
    receipt: Receipt


def kept(ledger: Path) -> Kept | None:
    """What was acknowledged last, from the small file beside the ledger; None where nothing was."""
    with suppress(ValueError, LookupError, TypeError, RecursionError, InputError):
        told = json.loads(read_small(_beside(ledger)) or "null")
        return Kept(str(told["centre"]), Receipt.read(told["receipt"]))
    return None


def key_for(ledger: Path, centre: str | None) -> str:
    """The public key of the ledger's centre: the one given, or else the one that is kept.

    Raises:
        InputError: there is neither.
    """
    if centre:
        return centre
    if before := kept(ledger):
        return before.centre
    raise InputError("no centre is known yet", act=Act.NAME_CENTRE)


def checked(connection: Connection, note: str, key: str) -> Receipt:
    """The receipt in a signed note, held against the ledger.

    Raises:
        InputError: it is no receipt, or of another centre or ledger.
        LedgerError: the centre holds another entry than this ledger.
    """
    from logbook.proof.signing import opened

    told = Receipt.read(opened(note, key))
    if told.ledger != ledger_uuid(connection):
        raise InputError("the receipt is of another ledger", "name the one of this ledger")
    _hold_against(connection, told)
    return told


def acknowledge(connection: Connection, ledger: Path, note: str, key: str) -> Receipt:
    """Check a signed receipt against the ledger, and keep it for the next hand-over.

    Args:
        note: The signed note as the centre gave it.
        key: Its public key.

    Raises:
        InputError: it is no receipt, of another centre or ledger, or older than the one kept.
        LedgerError: the centre holds another entry than this ledger, or fewer than it did.
        LogbookError: it cannot be kept.
    """
    told, before = checked(connection, note, key), kept(ledger)
    if before and before.centre == key:
        _hold_against_the_last(before.receipt, told)
    content = json.dumps({"centre": key, "receipt": told.text()})
    try:
        write_private(_beside(ledger), content)
    except OSError as error:
        raise LogbookError(f"{_beside(ledger)}: {error.strerror}") from error
    return told


def acknowledged_entries(connection: Connection, ledger: Path, key: str | None = None) -> int:
    """Up to which entry the centre holds what this ledger holds; 0 where it holds something else,
    or has another ``key`` than the one that is kept, so that everything is handed over and
    compared."""
    last = kept(ledger)
    same = last and last.receipt.ledger == ledger_uuid(connection) and key in (None, last.centre)
    if not (last and same) or hash_at(connection, last.receipt.entries) != last.receipt.head:
        return 0
    return last.receipt.entries


def _hold_against(connection: Connection, told: Receipt) -> None:
    here = hash_at(connection, told.entries)
    if here is None:
        raise LedgerError(
            f"the centre holds {told.entries} entries, more than this ledger",
            "keep both, and find out which copy is the clinic's",
        )
    if here != told.head:
        raise LedgerError(
            f"entry {told.entries} at the centre is not entry {told.entries} of this ledger",
            "keep both, and find out which of them was changed",
        )


def _hold_against_the_last(before: Receipt, told: Receipt) -> None:
    if told.at < before.at:
        raise InputError(f"the receipt is older than that of {utc_text(before.at)}, which is kept")
    if told.entries < before.entries:
        raise LedgerError(
            f"the centre holds {told.entries} entries, and had acknowledged {before.entries}",
            "it lost some; tell whoever runs it",
        )


def _beside(ledger: Path) -> Path:
    place = real_path(ledger)
    return place.with_name(f"{place.name}.receipt")
