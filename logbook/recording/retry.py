"""Keeping an entry's identity until the person was told what became of it.

Where a command was killed between saving and saying so, the person types it again. The identity
that was kept, beside the ledger and under the very words of the command, makes the second one
answer "already recorded" instead of a second entry.
"""

import hashlib
import json
import os
import re
import time
from collections.abc import Sequence
from contextlib import suppress
from glob import escape
from pathlib import Path

from logbook.ledger.disk import remove_quietly, sync_folder
from logbook.ledger.kept import read_small
from logbook.ledger.store import new_id
from logbook.value import Value

KEPT_S = 900
"""How long the same command counts as a retry; our own choice: a quarter of an hour."""
READ_AND_WRITE = 0o666
"""Of the rights of a ledger's file, those that its companion shares."""
KEY_DIGITS = 32
"""So much of a hash no two commands share by chance."""
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


class Identity(Value):
    """The identity that an entry has or will have; its door carries it, as a page in its form."""

    draft_id: str

    def keep(self) -> None:
        """Make sure before the entry is written that a retry has it, too."""

    def acknowledged(self) -> None:
        """The person was told what became of it."""


class KeptIdentity(Identity):
    """An identity and the file that keeps it, for a door at which words are typed again."""

    file: Path
    ledger: Path

    def keep(self) -> None:
        """Put it on the disk before the entry is written; a folder that takes no file goes without.

        Whoever may write the ledger may read it: another person may type the command again.
        """
        remove_quietly(self.file)
        with suppress(OSError):
            rights = self.ledger.stat().st_mode & READ_AND_WRITE
            handle = os.open(self.file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, rights)
            with os.fdopen(handle, "w", encoding="ascii") as file:
                file.write(self.draft_id)
                file.flush()
                os.fsync(handle)
            sync_folder(self.file.parent)

    def acknowledged(self) -> None:
        """The person was told: the next command of the same words is another entry."""
        remove_quietly(self.file)


def identity(ledger: Path, uuid: str, words: Sequence[str], *, another: bool) -> KeptIdentity:
    """The identity for a command of these words on the ledger of that uuid.

    It is the one that is still kept, or a fresh one; a fresh one always where ``another`` entry
    of the same words is meant.
    """
    path = ledger.resolve()
    key = hashlib.sha256(json.dumps([uuid, *words]).encode()).hexdigest()[:KEY_DIGITS]
    _clean(path)
    file = path.with_name(f"{path.name}.pending-{key}")
    kept = None if another else read_small(file)
    return KeptIdentity(kept if kept and _UUID.fullmatch(kept) else new_id(), file, path)


def _clean(ledger: Path) -> None:
    """Take away what nobody asked for in time. A clock that was set back lets it stay longer."""
    with suppress(OSError):
        for one in ledger.parent.glob(f"{escape(ledger.name)}.pending-{'[0-9a-f]' * KEY_DIGITS}"):
            if time.time() - one.lstat().st_mtime > KEPT_S:
                remove_quietly(one)
