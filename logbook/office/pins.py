"""PINs by which people sign at a page: their hashes lie in a small file beside the ledger.

They are no part of the ledger, of its backups or exports. A six-digit number is guessed by whoever
holds the file, so the file is its owner's alone; what keeps guessing at the page slow are the waits
of ``logbook/page/signing.py``.
"""

import base64
import binascii
import hashlib
import hmac
import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from logbook.deed import last_step
from logbook.errors import InputError, LogbookError
from logbook.ledger.disk import names_held, write_private
from logbook.ledger.file import real_path
from logbook.ledger.kept import read_small
from logbook.vocabulary import ROLES, Role

DIGITS = 6
"""The length of a PIN: NIST Special Publication 800-63B asks for at least six digits of a secret
that the verifier chose (an excerpt was read)."""
MOST_BYTES = 100_000
COST: Mapping[str, int] = {"n": 2**14, "r": 8, "p": 5}
"""Cost of a guess, about a quarter of a second; one of the settings of the OWASP Password Storage
Cheat Sheet (from memory)."""
_SALT_BYTES = 16


@dataclass(frozen=True, slots=True)
class Pin:
    """The hash of a person's PIN, and what the person may do."""

    salt: bytes
    hashed: bytes
    role: Role

    def fits(self, typed: str) -> bool:
        """Whether this is the PIN; takes equally long whatever was typed."""
        return hmac.compare_digest(_hash(typed, self.salt), self.hashed)


NOBODY = Pin(bytes(_SALT_BYTES), bytes(64), "look")
"""What the PIN of unknown initials is held against, so that they take as long as known ones."""


@dataclass(frozen=True, slots=True)
class Pins:
    """The PINs of one ledger, each by initials, and a key of the place for tokens of forms."""

    file: Path

    @classmethod
    def beside(cls, ledger: Path) -> "Pins":
        """Those of the ledger at a path."""
        place = real_path(ledger)
        return cls(place.with_name(f"{place.name}.pins"))

    def read(self) -> dict[str, Pin]:
        """Every PIN by initials; none where no file was made, or what lies there is not ours."""
        people = self._told().get("people")
        if not isinstance(people, dict):
            return {}
        return {initials: pin for initials, one in people.items() if (pin := _pin(one))}

    def key(self) -> bytes:
        """A secret of this place, the same from one start to the next once a PIN was made."""
        told = self._told().get("key")
        return told.encode() if isinstance(told, str) and told else secrets.token_bytes(32)

    def make(self, initials: str, role: Role, own: str | None = None) -> str:
        """Give a person a PIN, in place of one that there was; answer it, to be shown once.

        Raises:
            InputError: a PIN of a person's own is not six digits, or too easily guessed.
            LogbookError: the file cannot be written, or somebody else writes there just now.
        """
        typed = _fit(own) if own is not None else _drawn()
        salt = secrets.token_bytes(_SALT_BYTES)
        one = {"role": role, "salt": _text(salt), "hash": _text(_hash(typed, salt))}
        # Two who give a PIN at once would each write what the other's file lacks.
        with names_held(self.file.parent):
            told = self._told()
            people = told.get("people")
            others = people if isinstance(people, dict) else {}
            key = told.get("key") or secrets.token_hex(32)
            kept = {"key": key, "people": {**others, initials: one}}
            try:
                with last_step():
                    write_private(self.file, json.dumps(kept))
            except OSError as error:
                raise LogbookError(f"{self.file}: {error.strerror}") from error
        return typed

    def _told(self) -> dict[str, Any]:
        try:
            told = json.loads(read_small(self.file, MOST_BYTES) or "null")
        except (ValueError, RecursionError):
            return {}
        return told if isinstance(told, dict) else {}


def _hash(typed: str, salt: bytes) -> bytes:
    return hashlib.scrypt(typed.encode(), salt=salt, **COST)


def _drawn() -> str:
    while True:
        typed = f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}"
        if not _easy(typed):
            return typed


def _fit(own: str) -> str:
    if not (own.isascii() and own.isdigit() and len(own) == DIGITS):
        raise InputError(f"a PIN has {DIGITS} digits", "choose another one")
    if _easy(own):
        raise InputError("this PIN is guessed first (digits alike or in a row)", "choose another")
    return own


def _easy(typed: str) -> bool:
    """Digits alike, or counting up or down by one."""
    steps = {int(after) - int(before) for before, after in pairwise(typed)}
    return steps in ({0}, {1}, {-1})


def _text(value: bytes) -> str:
    return base64.b64encode(value).decode()


def _pin(told: Any) -> Pin | None:
    try:
        salt, hashed = (base64.b64decode(told[name], validate=True) for name in ("salt", "hash"))
        role = next(one for one in ROLES if one == told["role"])
    except (KeyError, TypeError, ValueError, StopIteration, binascii.Error):
        return None
    return Pin(salt, hashed, role)
