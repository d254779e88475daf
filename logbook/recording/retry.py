"""Keeping a draft's identity until its saving is acknowledged.

Where a command was killed between saving and saying so, the person types it again. The identity
that was kept makes the second one answer "already recorded" instead of a second entry.
"""

import hashlib
import json
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from logbook.ledger.store import new_id

KEPT_S = 900
"""How long the same command counts as a retry; our own choice: a quarter of an hour."""


@dataclass(frozen=True, slots=True)
class Pending:
    """The file that keeps one identity; None of it matters once the saving was told."""

    path: Path
    draft_id: str

    def acknowledged(self) -> None:
        """The person was told: the next command of the same words is a new entry."""
        with suppress(OSError):
            self.path.unlink(missing_ok=True)


def pending(folder: Path, *words: str) -> Pending:
    """The identity for a command of these words: one that is still kept, else a fresh one."""
    key = hashlib.sha256("\n".join(words).encode()).hexdigest()
    path = folder / f"{key}.json"
    kept = _kept(path)
    if kept is not None:
        return Pending(path, kept)
    fresh = Pending(path, new_id())
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps({"id": fresh.draft_id, "at": int(time.time())}))
    return fresh


def _kept(path: Path) -> str | None:
    try:
        told = json.loads(path.read_text())
        fresh = 0 <= time.time() - told["at"] <= KEPT_S
        return str(told["id"]) if fresh else None
    except (OSError, ValueError, KeyError, TypeError):
        return None
