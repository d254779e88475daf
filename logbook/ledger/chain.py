"""The chain: each entry's hash covers the entry before it and every column of its own."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

GENESIS = b"gas-machine-logbook genesis-v1\n"
LINK = b"gas-machine-logbook entry-v1\n"


@dataclass(frozen=True, slots=True)
class Stored:
    """One row of the entry table, every column as the text that is stored."""

    seq: int
    id: str
    kind: str
    happened_at: str
    happened_local: str
    recorded_at: str
    recorded_local: str
    by: str
    body: str
    hash: str = ""


def genesis_hash(ledger_uuid: str) -> str:
    """The hash that the first entry continues, as 64 hexadecimal digits."""
    return hashlib.sha256(GENESIS + ledger_uuid.encode("ascii")).hexdigest()


def link_hash(previous: str, row: Stored) -> str:
    """The hash of a row: SHA-256 over the previous hash, the number, the header and the body.

    The header's fields are joined by line feeds, which none of them may hold; the body is last,
    so no two rows share the same bytes.
    """
    when = (row.happened_at, row.happened_local, row.recorded_at, row.recorded_local)
    header = "\n".join((row.id, row.kind, *when, row.by))
    return hashlib.sha256(
        LINK
        + bytes.fromhex(previous)
        + row.seq.to_bytes(8, "big")
        + f"{header}\n{row.body}".encode()
    ).hexdigest()


def first_break(ledger_uuid: str, rows: Iterable[Stored]) -> int | None:
    """The number of the first row that does not continue the chain, or None where all do."""
    previous = genesis_hash(ledger_uuid)
    for position, row in enumerate(rows, start=1):
        if row.seq != position or row.hash != link_hash(previous, row):
            return position
        previous = row.hash
    return None
