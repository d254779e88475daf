"""Which limits are in force, for which machine, and why."""

from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import Connection, select

from logbook.limits import LIMITS
from logbook.projections.tables import rule


@dataclass(frozen=True, slots=True)
class InForce:
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


def defaults() -> dict[str, InForce]:
    """Every limit as it stands before anybody changed it."""
    return {
        name: InForce(
            name, None, one.value, one.unit, one.meaning, one.source, one.confidence, None, None
        )
        for name, one in LIMITS.items()
    }


def rules_set(connection: Connection, at_s: int) -> list[InForce]:
    """Every limit for the clinic, and every one that was set for one machine."""
    clinic = defaults()
    machines: dict[tuple[str, str], InForce] = {}
    # Of a limit that nobody knows, which only a hand could write, nothing is in force.
    told = select(rule).where(rule.c.at_s <= at_s, rule.c.limit.in_(LIMITS))
    for row in connection.execute(told.order_by(rule.c.at_s, rule.c.entry)):
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


@dataclass(frozen=True, slots=True)
class Rulebook:
    """The values in force at a moment, looked up by machine."""

    clinic: Values
    machines: dict[str, Values]

    def for_machine(self, machine: str | None) -> Values:
        """The clinic's values with those of the machine laid over them."""
        return self.clinic | self.machines.get(machine or "", {})


def rulebook(connection: Connection, at_s: int) -> Rulebook:
    """Read the values in force once, for as many machines as a question has."""
    clinic: Values = {}
    machines: dict[str, Values] = {}
    for one in rules_set(connection, at_s):
        place = clinic if one.machine is None else machines.setdefault(one.machine, {})
        place[one.limit] = one.value
    return Rulebook(clinic, machines)
