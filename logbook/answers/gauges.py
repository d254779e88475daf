"""What was last seen at a machine's oxygen gauges and pop-off valve, wherever it was written."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, Select, select

from logbook.answers.absorbent import last_change
from logbook.answers.item import Asked
from logbook.checklists import POP_OFF_OPEN
from logbook.projections.tables import case, check, check_answer, oxygen
from logbook.times import utc_from_epoch_s


@dataclass(frozen=True, slots=True)
class Gauge:
    """A pressure in psi and when it was read."""

    psi: Decimal
    at: datetime


@dataclass(frozen=True, slots=True)
class PopOff:
    """What was last recorded of the pop-off valve."""

    is_open: bool
    entry: int
    at: datetime


def cylinder_gauge(asked: Asked, machine: str) -> Gauge | None:
    """The last reading of the cylinder, from a reading, a change or a check."""
    return _newest(asked, machine, oxygen.c.cylinder_psi)


def pipeline_gauge(asked: Asked, machine: str) -> Gauge | None:
    """The last reading of the pipeline, from a reading or a check."""
    return _newest(asked, machine, oxygen.c.pipeline_psi)


def cylinder_size(asked: Asked, machine: str) -> str | None:
    """The size told at the last change of the cylinder."""
    query = select(oxygen.c.size).where(
        oxygen.c.machine == machine,
        oxygen.c.event == "change",
        oxygen.c.at_s <= asked.moment.at_s,
    )
    return asked.connection.execute(
        query.order_by(oxygen.c.at_s.desc(), oxygen.c.entry.desc()).limit(1)
    ).scalar()


def _newest(asked: Asked, machine: str, column: Any) -> Gauge | None:
    query = select(oxygen.c.at_s, column.label("psi")).where(
        oxygen.c.machine == machine, column.is_not(None), oxygen.c.at_s <= asked.moment.at_s
    )
    row = _first(asked, query.order_by(oxygen.c.at_s.desc(), oxygen.c.entry.desc()))
    return None if row is None else Gauge(row.psi, utc_from_epoch_s(row.at_s))


def _first(asked: Asked, query: Select[Any]) -> Row[Any] | None:
    return asked.connection.execute(query.limit(1)).first()


def pop_off(asked: Asked, machine: str) -> PopOff | None:
    """The pop-off valve as last recorded: at the end of a check, or when a case was begun."""
    seen = _first(
        asked,
        select(check.c.at_s, check.c.entry, check_answer.c.state)
        .join(check_answer, check_answer.c.entry == check.c.entry)
        .where(
            check.c.machine == machine,
            check.c.at_s <= asked.moment.at_s,
            check_answer.c.item == POP_OFF_OPEN,
        )
        .order_by(check.c.at_s.desc(), check.c.entry.desc()),
    )
    begun = _first(
        asked,
        select(case.c.began_s.label("at_s"), case.c.entry, case.c.pop_off_open)
        .where(
            case.c.machine == machine,
            case.c.pop_off_open.is_not(None),
            case.c.began_s <= asked.moment.at_s,
        )
        .order_by(case.c.began_s.desc()),
    )
    if begun is not None and (seen is None or begun.at_s >= seen.at_s):
        return PopOff(bool(begun.pop_off_open), begun.entry, utc_from_epoch_s(begun.at_s))
    if seen is None:
        return None
    return PopOff(seen.state == "passed", seen.entry, utc_from_epoch_s(seen.at_s))


def leak_tested_s(asked: Asked, machine: str) -> int | None:
    """When the last leak test of the breathing system passed; None where none is recorded."""
    query = (
        select(check.c.at_s)
        .join(check_answer, check_answer.c.entry == check.c.entry)
        .where(
            check.c.machine == machine,
            check.c.at_s <= asked.moment.at_s,
            check_answer.c.tested == "leak",
            check_answer.c.state == "passed",
        )
    )
    row = _first(asked, query.order_by(check.c.at_s.desc()))
    return None if row is None else int(row.at_s)


def opened_s(asked: Asked, machine: str) -> list[tuple[str, int]]:
    """What last opened the breathing system or the gas path of a machine, and when."""
    changed = last_change(asked, machine)
    opened = [("the absorbent change", int(changed.at_s))] if changed else []
    for tag, stays in asked.stays.items():
        fitted = [at_s for at_s, place in stays if place == machine and at_s <= asked.moment.at_s]
        opened += [(f"{tag} was fitted", max(fitted))] if fitted else []
    return opened
