"""The last head that this computer saw, kept outside the file.

A ledger that is older than the one used before, or another under the same name, is noticed at once
and said in one sentence. Nothing is refused: whoever restored it may have had good reason.
"""

import json
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, select

from logbook.ledger.schema import entry
from logbook.ledger.store import head, ledger_uuid
from logbook.projections.tables import restore


@dataclass(frozen=True, slots=True)
class Memory:
    """Where a computer keeps what it saw: one small file for each ledger."""

    folder: Path

    def look(self, connection: Connection) -> str | None:
        """A sentence where the ledger does not continue what was seen before; else None.

        Remembers the head that it sees, unless the ledger is older than what was seen.
        """
        uuid = ledger_uuid(connection)
        count, last = head(connection)
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
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            file = self._file(uuid)
            part = file.with_name(f"{file.name}.{os.getpid()}.part")
            part.write_text(json.dumps({"entries": count, "head": last}))
            part.replace(file)

    def _file(self, uuid: str) -> Path:
        # The identity stands in a file that anybody may have made: it must not lead elsewhere.
        return self.folder / f"{quote(uuid, safe='')}.json"

    def recall(self, uuid: str) -> tuple[int, str]:
        """The count and head seen last; 0 and nothing where this ledger was never seen."""
        try:
            told = json.loads(self._file(uuid).read_text())
            count, last = int(told["entries"]), bytes.fromhex(told["head"]).hex()
        except (OSError, ValueError, KeyError, TypeError):
            return 0, ""
        return (count, last) if count > 0 and len(last) == 64 else (0, "")


def _hash_of(connection: Connection, seq: int) -> str | None:
    return connection.execute(select(entry.c.hash).where(entry.c.seq == seq)).scalar()


def _declared(connection: Connection, seen_head: str) -> bool:
    """Whether a restore in the ledger says that this very head was lost."""
    query = select(restore.c.entry).where(restore.c.lost_head == seen_head)
    return connection.execute(query).first() is not None
