"""Which limits are in force, for which machine, and why."""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from functools import cache
from typing import Any

from sqlalchemy import Connection, Row, func, select

from logbook.country import pipeline_at_50_psi
from logbook.limits import LIMITS, PIPELINE_ELSEWHERE
from logbook.projections import tables
from logbook.projections.tables import rule
from logbook.value import Value


class InForce(Value):
    """A limit as it counts; ``entry`` is the rule change that set it, None for the default."""

    limit: str
    machine: str | None
    value: Decimal
    unit: str
    meaning: str
    source: str
    confidence: str
    reason: str | None
    entry: int | None


def defaults(country: str | None = None) -> dict[str, InForce]:
    """Every limit as it stands in a country before anybody changed it."""
    limits = LIMITS if pipeline_at_50_psi(country) else LIMITS | {"pipeline": PIPELINE_ELSEWHERE}
    return {
        name: InForce(
            name, None, one.value, one.unit, one.meaning, one.source, one.confidence, None, None
        )
        for name, one in limits.items()
    }


def rules_set(connection: Connection, at_s: int) -> list[InForce]:
    """Every limit for the clinic, and every one that was set for one machine."""
    country, changes = _changes(connection)
    return _in_force(country, (row for row in changes if row.at_s <= at_s))


def _changes(connection: Connection) -> tuple[str | None, Sequence[Row[Any]]]:
    """The clinic's country, and every change in its order; of a limit that nobody knows, which only
    a hand could write, nothing is in force."""
    known = tables.clinic.outerjoin(rule, rule.c.limit.in_(LIMITS))
    last = select(func.max(tables.clinic.c.entry)).scalar_subquery()
    query = select(tables.clinic.c.country, rule).select_from(known)
    query = query.where(tables.clinic.c.entry == last).order_by(rule.c.at_s, rule.c.entry)
    rows = connection.execute(query).all()
    return rows[0].country, [row for row in rows if row.limit is not None]


def _in_force(country: str | None, changes: Iterable[Row[Any]]) -> list[InForce]:
    clinic = defaults(country)
    machines: dict[tuple[str, str], InForce] = {}
    for row in changes:
        one = LIMITS[row.limit]
        changed = InForce(
            row.limit,
            row.machine,
            row.value,
            one.unit,
            one.meaning,
            row.source or "set by the clinic",
            "set by the clinic",
            row.reason,
            row.entry,
        )
        if row.machine is None:
            clinic[row.limit] = changed
        else:
            machines[row.machine, row.limit] = changed
    return [*clinic.values(), *machines.values()]


Values = dict[str, Decimal]


class Rulebook(Value):
    """The values in force at a moment; for a machine that has some of its own, these are laid over
    the clinic's."""

    clinic: Values
    machines: dict[str, Values]

    def for_machine(self, machine: str | None) -> Values:
        """The clinic's values with those of the machine laid over them."""
        return self.machines.get(machine or "", self.clinic)


def rulebook(connection: Connection, at_s: int) -> Rulebook:
    """Read the values in force once, for as many machines as a question has."""
    return _rulebook(rules_set(connection, at_s))


def rulebooks(connection: Connection) -> Callable[[int], Rulebook]:
    """Read the changes once, for as many instants as a question has."""
    country, changes = _changes(connection)
    begin_s = [row.at_s for row in changes]
    books = cache(lambda count: _rulebook(_in_force(country, changes[:count])))
    return lambda at_s: books(bisect_right(begin_s, at_s))


def _rulebook(limits: Iterable[InForce]) -> Rulebook:
    clinic: Values = {}
    machines: dict[str, Values] = {}
    for one in limits:
        place = clinic if one.machine is None else machines.setdefault(one.machine, {})
        place[one.limit] = one.value
    return Rulebook(clinic, {machine: clinic | own for machine, own in machines.items()})
