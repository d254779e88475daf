"""How a quantity or a date stands against its limit, in the words every list uses."""

from datetime import date
from decimal import Decimal
from enum import StrEnum


class Standing(StrEnum):
    """How a clock stands, the best first."""

    OK = "ok"
    DUE_SOON = "due soon"
    NO_RECORD = "no record"
    DUE = "due"
    OVERDUE = "overdue"


WORST_FIRST = (*reversed(Standing),)
ATTENTION = frozenset({Standing.OVERDUE, Standing.DUE, Standing.NO_RECORD})
"""Standings that make a list end with the exit code that asks for attention."""


def by_date(due_on: date, today: date, soon_days: Decimal) -> Standing:
    """Due on the day itself, overdue after it, due soon within the days before it."""
    if due_on <= today:
        return Standing.OVERDUE if due_on < today else Standing.DUE
    return Standing.DUE_SOON if (due_on - today).days <= soon_days else Standing.OK


def by_amount(used: Decimal, limit: Decimal, soon_percent: Decimal) -> Standing:
    """Due where the limit is reached, overdue beyond it, due soon from a share of it on."""
    if used >= limit:
        return Standing.OVERDUE if used > limit else Standing.DUE
    return Standing.DUE_SOON if used * 100 >= limit * soon_percent else Standing.OK
