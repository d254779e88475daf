"""Checks that somebody is walking: what was answered so far, when and by whom."""

import json
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, Row, select

from logbook.checklists import Answer
from logbook.errors import InputError
from logbook.ledger.schema import unfinished_answer, unfinished_check
from logbook.times import local_text, utc_parse
from logbook.units import format_decimal

LONGEST_NAME = 40
"""Characters of a tag, of a list's name, or of initials, at most."""
LIMIT = "check-hours"
"""The limit that says how long the answers of one check count together."""


@dataclass(frozen=True, slots=True)
class Kept:
    """An answer as it was given, when, and by whom."""

    answer: Answer
    at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A check that is neither an entry yet nor thrown away.

    ``walked_by`` is who answers now; ``again_of`` the check of which items are done again.
    ``kept`` holds the answers by item, in the order in which they were given.
    """

    id: str
    machine: str
    checklist: str
    version: int
    begun_at: datetime
    begun_by: str
    walked_by: str
    again_of: int | None
    kept: Mapping[str, Kept]

    @property
    def last_at(self) -> datetime:
        """When the last answer was given."""
        return max((one.at for one in self.kept.values()), default=self.begun_at)

    @property
    def answers(self) -> dict[str, Answer]:
        """The answers by item."""
        return {item: one.answer for item, one in self.kept.items()}

    def has_ended(self, now: datetime, limit_h: Decimal) -> bool:
        """Whether its first answers are too old to make one check with what is seen now."""
        return now - self.begun_at > timedelta(seconds=int(limit_h * 3600))

    def sentence(self, zone: ZoneInfo, now: datetime, limit_h: Decimal) -> str:
        """Who began it and when, how far it is, who walks it now, and whether it has ended."""
        what = f"the {self.checklist} check of {self.machine}"
        if self.again_of is not None:
            what = f"items of {what} (entry {self.again_of}) again"
        items = f"{len(self.kept)} item{'' if len(self.kept) == 1 else 's'}"
        parts = [
            f"{self.begun_by} began {what} at {local_text(self.begun_at, zone)}",
            f"{items} answered, the last at {local_text(self.last_at, zone)[11:16]}",
        ]
        if self.walked_by != self.begun_by:
            parts.append(f"{self.walked_by} walks it now")
        if self.has_ended(now, limit_h):
            parts.append(f"it ended after {format_decimal(limit_h)} h without being finished")
        return "; ".join(parts)


def unfinished_checks(connection: Connection) -> list[Unfinished]:
    """Every check that is being walked, by machine and list.

    No chain holds these tables, so that another program can write anything there: what cannot have
    been kept by this one is not there.
    """
    answers: dict[str, dict[str, Kept]] = defaultdict(dict)
    table = unfinished_answer
    for row in connection.execute(select(table).order_by(table.c.answered_at, table.c.item)):
        if (kept := _kept(row)) is not None:
            answers[row.check_id][row.item] = kept
    query = select(unfinished_check).order_by(
        unfinished_check.c.machine, unfinished_check.c.checklist, unfinished_check.c.begun_at
    )
    found = (_unfinished(row, answers[row.id]) for row in connection.execute(query))
    return [one for one in found if one is not None]


def _unfinished(row: Row[Any], kept: Mapping[str, Kept]) -> Unfinished | None:
    names = (row.machine, row.checklist, row.begun_by, row.walked_by)
    if not all(name.isprintable() and len(name) <= LONGEST_NAME for name in names):
        return None
    try:
        begun_at = utc_parse(row.begun_at)
    except InputError:
        return None
    return Unfinished(
        row.id, row.machine, row.checklist, row.version, begun_at, row.begun_by, row.walked_by,
        row.again_of, kept,
    )  # fmt: skip


_TYPES = {"state": str, "value": str, "unit": str, "reason": str, "held_s": int, "timed": bool}


def _kept(row: Row[Any]) -> Kept | None:
    try:
        told, at = json.loads(row.answer), utc_parse(row.answered_at)
    except (ValueError, RecursionError, InputError):
        return None
    if not isinstance(told, dict) or any(_TYPES.get(k) is not type(v) for k, v in told.items()):
        return None
    return Kept(Answer(**told), at, row.by)


def unfinished(connection: Connection, machine: str, checklist: str) -> Unfinished | None:
    """The check of a list on a machine that is being walked, if there is one."""
    for one in unfinished_checks(connection):
        if (one.machine, one.checklist) == (machine, checklist):
            return one
    return None
