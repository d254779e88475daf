"""Checks that somebody is walking: what was answered so far, when and by whom."""

import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import groupby
from operator import attrgetter
from typing import Any

from sqlalchemy import Connection, Row, select

from logbook.checklists import Answer
from logbook.errors import InputError
from logbook.ledger.schema import unfinished_answer, unfinished_check
from logbook.times import utc_parse
from logbook.value import Value

LONGEST_NAME = 40
"""Characters of a tag, of a list's name, or of initials, at most."""
LIMIT = "check-hours"
"""The limit that says how long the answers of one check count together."""


class Kept(Value):
    """An answer as it was given, when, and by whom."""

    answer: Answer
    at: datetime
    by: str


class Unfinished(Value):
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


def unfinished_checks(connection: Connection) -> list[Unfinished]:
    """Every check that is being walked, by machine and list.

    No chain holds these tables, so that another program can write anything there: what cannot have
    been kept by this one is not there.
    """
    checks, answers = unfinished_check, unfinished_answer
    order = (checks.c.machine, checks.c.checklist, checks.c.begun_at, checks.c.id)
    query = select(checks, answers).outerjoin(answers, answers.c.check_id == checks.c.id)
    rows = connection.execute(query.order_by(*order, answers.c.answered_at, answers.c.item))
    found = []
    for _, same in groupby(rows, attrgetter("id")):
        of_check = list(same)
        kept = {row.item: one for row in of_check if (one := _kept(row)) is not None}
        found.append(_unfinished(of_check[0], kept))
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
_TYPES |= {"pressure_cmh2o": str, "end_pressure_cmh2o": str}


def _kept(row: Row[Any]) -> Kept | None:
    if row.item is None:
        return None  # Nothing was answered yet.
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
