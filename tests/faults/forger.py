"""Somebody who knows the rule of the chain and appends entries with a right hash by hand."""

import random
import sqlite3
from contextlib import closing
from dataclasses import fields, replace
from datetime import datetime
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ValidationError

from logbook.entries import model
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


TEXTS = (
    *["bay1"] * 20, *["iso1"] * 10,
    "bay2", "iso2", "zz9", "a", "KO", "RT", "ZZ", "daily", "0", "1", "0.000001",
    "2.5", "100", "999999", "20000", "1900-01-01", "2026-03-02", "2199-12-31", "0001-01-01",
    "9999-12-31", "1900-01-01T00:00:00Z", "2026-03-02T16:00:00Z", "2199-12-31T23:59:59Z", "P1D",
    "P12M", "P9999Y", "P0D", "PT1H", "FREQ=DAILY;COUNT=1", "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30",
    "every now and then", "America/Denver", "Pacific/Kiritimati", "absorbent-hours", "leak-flow",
    "service", "output verification", "name = 1", "x" * 500, "\x1b[2J", "\u202e", "\ud800", "\0",
    "a\nb", "é", "٣", "f" * 64, "leak", "bag", "mL/min",
)  # fmt: skip
"""What a field of text may hold: right somewhere, or at the end of what is taken; the tags of
units that exist come often, or nothing would be asked of what was forged."""
NUMBERS = (0, 1, 2, 3, 7, 12, 20, 29, 600, 86_400, 2**31, 2**53 - 1)


def drawn_body(kind: str, chance: random.Random) -> dict[str, Any]:
    """A body that its class reads, with whatever values it takes."""
    return _drawn_of(model(kind), chance)


def _drawn_of(of: type[BaseModel], chance: random.Random) -> dict[str, Any]:
    """The same of any class; a part that is a class of its own is drawn until that reads it, or
    parts with several numbers would hardly ever fit."""
    fields = of.model_fields
    told = {name: _drawn(field.annotation, chance) for name, field in fields.items()}
    for _ in range(4_000):
        try:
            read = of.model_validate_json(canonical_json(told))
            return read.model_dump(mode="json", exclude_none=True)
        except (ValidationError, ValueError) as error:
            wrong = {str(one["loc"][0]) for one in _errors(error) if one["loc"]} & fields.keys()
            for name in fields if not wrong else [one for one in fields if one in wrong]:
                told[name] = _drawn(fields[name].annotation, chance)
    raise AssertionError(f"nothing that {of.__name__} takes was found: {told}")


def _errors(error: ValueError) -> Any:
    return error.errors() if isinstance(error, ValidationError) else []


def _drawn(kind: Any, chance: random.Random) -> Any:
    origin = get_origin(kind)
    if origin is Annotated:
        return _drawn(get_args(kind)[0], chance)
    if origin is Literal:
        return chance.choice(get_args(kind))
    if origin in (Union, UnionType):
        return _drawn(chance.choice(get_args(kind)), chance)
    if origin is tuple:
        return [_drawn(get_args(kind)[0], chance) for _ in range(chance.choice((0, 1, 1, 2)))]
    if origin is dict:
        return drawn_body(chance.choice(("note", "case", "fault", "machine")), chance)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return _drawn_of(kind, chance)
    if kind is type(None):
        return None
    if kind is bool:
        return chance.random() < 0.5
    return chance.choice(NUMBERS if kind is int else TEXTS)
