"""Damage to the bytes of a file, and what of a ledger can be read in spite of it."""

import random
import shutil
import sqlite3
import tempfile
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from logbook.errors import LogbookError
from logbook.proof.verify import verify

SECTOR, PAGE = 512, 4096
EMPTY = 0.02
"""How often an empty byte that was drawn is taken."""
Damage = Callable[[bytearray, random.Random], None]


def _place(content: bytearray, chance: random.Random) -> int:
    """A byte that is not zero, and now and then one that is: most of a small ledger is empty."""
    while True:
        at = chance.randrange(len(content))
        if content[at] or chance.random() < EMPTY:
            return at


def bit_flip(content: bytearray, chance: random.Random) -> None:
    """One bit is the other way round."""
    content[_place(content, chance)] ^= 1 << chance.randrange(8)


def byte(content: bytearray, chance: random.Random) -> None:
    """One byte is another."""
    content[_place(content, chance)] ^= chance.randrange(1, 256)


def zeroed_sector(content: bytearray, chance: random.Random) -> None:
    """A sector that the disk could not keep."""
    at = _place(content, chance) // SECTOR * SECTOR
    content[at : at + SECTOR] = bytes(SECTOR)


def swapped_pages(content: bytearray, chance: random.Random) -> None:
    """Two pages stand in each other's place."""
    one, other = (PAGE * at for at in chance.sample(range(len(content) // PAGE), 2))
    kept = content[one : one + PAGE]
    content[one : one + PAGE] = content[other : other + PAGE]
    content[other : other + PAGE] = kept


def truncation(content: bytearray, chance: random.Random) -> None:
    """The end is missing."""
    del content[chance.randrange(1, len(content)) :]


DAMAGES: dict[str, Damage] = {
    one.__name__: one for one in (bit_flip, byte, zeroed_sector, swapped_pages, truncation)
}


def damaged(whole: bytes, kind: str, chance: random.Random) -> bytes:
    """A file with one damage that changes it."""
    content = bytearray(whole)
    while content == whole:
        DAMAGES[kind](content, chance)
    return bytes(content)


NAMES_OUTSIDE_THE_CHAIN = ("person", "name")
"""The one column that nothing proves, so that a name can be changed or taken out."""


def logical_content(path: Path, *, but_names: bool = False) -> dict[str, Any]:
    """Every row of every table, every statement of the schema but for its blanks, and whether
    SQLite finds the pages and indexes to be sound."""
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as raw:
        raw.text_factory = bytes
        schema = raw.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall()
        content: dict[str, Any] = {
            "schema": sorted(
                (kind, name, table, (sql or b"").split()) for kind, name, table, sql in schema
            ),
            "application_id": raw.execute("PRAGMA application_id").fetchone(),
            # A table reads well where only its index is spoilt, until somebody looks a row up.
            "pages": raw.execute("PRAGMA integrity_check").fetchall(),
        }
        for name in sorted(name.decode() for kind, name, *_ in schema if kind == b"table"):
            wanted = "initials" if but_names and name == NAMES_OUTSIDE_THE_CHAIN[0] else "*"
            rows = raw.execute(f'SELECT {wanted} FROM "{name}"').fetchall()  # noqa: S608
            content[name] = sorted(rows, key=repr)
    return content


@dataclass
class Judged:
    """How many of each damage were noticed, meant nothing, changed a name, or went unnoticed."""

    seen: Counter[tuple[str, str]] = field(default_factory=Counter)
    unnoticed: list[str] = field(default_factory=list)


def judge(original: Path, kind: str, drawn: list[str]) -> Judged:
    """Damage a ledger once for each seed drawn, and verify every result."""
    whole, judged = original.read_bytes(), Judged()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "clinic.ledger"
        shutil.copyfile(original, path)
        contents = [logical_content(path, but_names=but_names) for but_names in (False, True)]
        for seed in drawn:
            path.write_bytes(damaged(whole, kind, random.Random(seed)))  # noqa: S311  Not a secret.
            told = _told(path, contents)
            judged.seen[kind, told] += 1
            if told == "unnoticed":
                judged.unnoticed.append(seed)
    return judged


def _told(path: Path, contents: list[dict[str, Any]]) -> str:
    try:
        if verify(path).findings:
            return "noticed"
    except LogbookError:
        return "noticed"
    if logical_content(path) == contents[0]:
        return "in unused bytes"
    return "in a name" if logical_content(path, but_names=True) == contents[1] else "unnoticed"
