"""The last head that this computer saw, kept outside the file.

A ledger that is older than the one used before, or another under the same name, is noticed at once
and said in one sentence. Nothing is refused: whoever restored it may have had good reason.
"""

import hashlib
import json
import os
import re
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, select

from logbook.ledger.disk import private_folder, write_private
from logbook.ledger.kept import read_small
from logbook.ledger.schema import entry
from logbook.ledger.store import Stand
from logbook.projections.tables import restore

_HASH = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Memory:
    """Where a computer keeps what it saw: one small file for each ledger."""

    folder: Path

    def look(self, connection: Connection, stand: Stand, path: Path) -> str | None:
        """A sentence where the ledger does not continue what was seen before; else None.

        Remembers the head that it sees, unless the ledger is older than what was seen.
        """
        gap, uuid = self._gap(connection, stand), stand.ledger
        lay_there = self.lay_at(path)
        if lay_there is None:
            self.remember_place(path, uuid)
        elif lay_there != uuid:
            return f"Another ledger lay at {path} when it was used here before"
        return gap

    def _gap(self, connection: Connection, stand: Stand) -> str | None:
        uuid, count, last = stand.ledger, stand.entries, stand.head
        seen_count, seen_head = self.recall(uuid)
        if (seen_count, seen_head) == (count, last):
            return None
        known = seen_count == 0 or _hash_of(connection, seen_count) == seen_head
        if known or _declared(connection, seen_head):
            self.remember(uuid, count, last)
            return None
        if count < seen_count:
            return (
                f"This ledger is older than the one used here before: it has {count} entries, "
                f"and {seen_count} were seen"
            )
        return f"This ledger is not the one used here before: its entry {seen_count} is another"

    def remember(self, uuid: str, count: int, last: str) -> None:
        """Keep a head; a computer on which nothing can be kept goes without."""
        self._keep(self._file(uuid), {"entries": count, "head": last})

    def remember_place(self, path: Path, uuid: str) -> None:
        """Keep which ledger lies at a path, by whatever name the path is reached."""
        self._keep(self._place(path), {"ledger": uuid})

    def lay_at(self, path: Path) -> str | None:
        """The identity of the ledger that lay at a path when it was used last, if any was."""
        uuid = _told(self._place(path)).get("ledger")
        return uuid if isinstance(uuid, str) else None

    def _keep(self, file: Path, told: dict[str, Any]) -> None:
        with suppress(OSError):
            private_folder(self.folder)
            write_private(file, json.dumps(told))

    def _place(self, path: Path) -> Path:
        name = hashlib.sha256(os.fsencode(path.resolve())).hexdigest()
        return self.folder / f"place-{name}.json"

    def _file(self, uuid: str) -> Path:
        # The identity stands in a file that anybody may have made: it must not lead elsewhere.
        return self.folder / f"{quote(uuid, safe='')}.json"

    def recall(self, uuid: str) -> tuple[int, str]:
        """The count and head seen last; 0 and nothing where this ledger was never seen."""
        told = _told(self._file(uuid))
        count, last = told.get("entries"), told.get("head")
        if not isinstance(count, int) or not isinstance(last, str):
            return 0, ""
        return (count, last) if 0 < count < 2**53 and _HASH.fullmatch(last) else (0, "")


def _told(file: Path) -> dict[str, Any]:
    """What a file of the memory says; nothing, where it is none that this program wrote."""
    try:
        told = json.loads(read_small(file) or "null")
    except (ValueError, RecursionError):
        return {}
    return told if isinstance(told, dict) else {}


def _hash_of(connection: Connection, seq: int) -> str | None:
    return connection.execute(select(entry.c.hash).where(entry.c.seq == seq)).scalar()


def _declared(connection: Connection, seen_head: str) -> bool:
    """Whether a restore in the ledger says that this very head was lost."""
    query = select(restore.c.entry).where(restore.c.lost_head == seen_head)
    return connection.execute(query).first() is not None
