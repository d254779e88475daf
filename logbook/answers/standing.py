"""How a quantity or a date stands against its limit, in the words every list uses."""

from datetime import date
from decimal import Decimal
from typing import Literal

Standing = Literal["ok", "due soon", "no record", "due", "overdue"]
WORST_FIRST: tuple[Standing, ...] = ("overdue", "due", "no record", "due soon", "ok")
ATTENTION: frozenset[Standing] = frozenset({"overdue", "due", "no record"})
"""Standings that make a list end with the exit code that asks for attention."""


def by_date(due_on: date, today: date, soon_days: Decimal) -> Standing:
    """Due on the day itself, overdue after it, due soon within the days before it."""
    if due_on <= today:
        return "overdue" if due_on < today else "due"
    return "due soon" if (due_on - today).days <= soon_days else "ok"


def by_amount(used: Decimal, limit: Decimal, soon_percent: Decimal) -> Standing:
    """Due where the limit is reached, overdue beyond it, due soon from a share of it on."""
    if used >= limit:
        return "overdue" if used > limit else "due"
    return "due soon" if used * 100 >= limit * soon_percent else "ok"
