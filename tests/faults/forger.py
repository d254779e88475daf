"""Somebody who knows the rule of the chain and appends entries with a right hash by hand."""

import sqlite3
from contextlib import closing
from dataclasses import fields, replace
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from logbook.entries.base import canonical_json
from logbook.ledger.chain import Stored, link_hash
from logbook.ledger.store import new_id
from logbook.times import utc_text

ZONE = ZoneInfo("America/Denver")
COLUMNS = ", ".join(f'"{one.name}"' for one in fields(Stored))
MARKS = ", ".join("?" * len(fields(Stored)))


def wall(instant: datetime) -> str:
    """The clinic's wall time with its offset, as an entry holds it."""
    return instant.astimezone(ZONE).isoformat(timespec="seconds")


def forge(
    path: Path, kind: str, at: datetime, body: dict[str, Any], *, recorded: datetime | None = None,
    by: str = "KO", **other: str,
) -> int:  # fmt: skip
    """Append an entry that no command was asked for; ``other`` are columns told outright."""
    saved = recorded or at
    with closing(sqlite3.connect(path)) as raw:
        (last, previous) = raw.execute(
            "SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1"
        ).fetchone()
        row = Stored(
            seq=last + 1, id=new_id(), kind=kind, happened_at=utc_text(at), happened_local=wall(at),
            recorded_at=utc_text(saved), recorded_local=wall(saved), by=by,
            body=canonical_json(body),
        )  # fmt: skip
        row = replace(row, **other)
        row = replace(row, hash=link_hash(previous, row))
        values = [getattr(row, one.name) for one in fields(Stored)]
        raw.execute(f"INSERT INTO entry ({COLUMNS}) VALUES ({MARKS})", values)  # noqa: S608
        raw.commit()
    return row.seq
