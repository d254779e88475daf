"""Use that was seen, beside use that was worked out: at each fill of a vaporizer, and between two
readings of an oxygen cylinder."""

from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, select

from logbook.answers.agent import cases_on, timed_segments_of, vaporizer_use
from logbook.answers.item import Asked
from logbook.answers.moment import moment_at
from logbook.arithmetic.constants import DRIFT_PERCENT, DRIFT_TIMES
from logbook.arithmetic.oxygen import contents_l
from logbook.projections.lookup import VaporizerView
from logbook.projections.tables import agent_level, oxygen
from logbook.times import utc_from_epoch_s

DRIFT_REMARK = (
    "use stays away from what dial and flow say: leak, wrong entries or output drift; "
    "have it verified"
)


@dataclass(frozen=True, slots=True)
class Compared:
    """Use between two readings: as seen and as worked out from dial and flow, in one unit.

    ``difference_percent`` is of the use worked out; None where nothing was worked out.
    """

    entry: int
    at: datetime
    seen: Decimal
    worked_out: Decimal
    difference_percent: Decimal | None
    untold_cases: int


def _compared(row: Row[Any], seen: Decimal, worked_out: Decimal, untold: int) -> Compared:
    percent = (seen - worked_out) * 100 / worked_out if worked_out else None
    rounded = None if percent is None else round(percent, 0)
    return Compared(row.entry, utc_from_epoch_s(row.at_s), seen, worked_out, rounded, untold)


def agent_compared(asked: Asked, view: VaporizerView) -> list[Compared]:
    """Each fill or reading of a vaporizer that tells what was used since the level before it, in
    mL of liquid, newest last.

    A fill tells the level before it only where both what was added and the level after it are
    known.
    """
    table = agent_level
    query = select(table).where(
        table.c.vaporizer == view.vaporizer, table.c.at_s <= asked.moment.at_s
    )
    compared: list[Compared] = []
    level_ml: Decimal | None = None
    since_s = 0
    for row in asked.connection.execute(query.order_by(table.c.at_s, table.c.entry)):
        before_ml = _level_before(row)
        if level_ml is not None and before_ml is not None:
            use = vaporizer_use(_at(asked, row.at_s), view, since_s)
            compared.append(_compared(row, level_ml - before_ml, use.used_ml, use.untold_cases))
        if row.level_ml is not None:
            level_ml, since_s = row.level_ml, row.at_s
        elif level_ml is not None:
            level_ml += row.added_ml
    return compared


def _level_before(row: Row[Any]) -> Decimal | None:
    if row.event == "reading":
        level: Decimal = row.level_ml
        return level
    if row.level_ml is None or row.added_ml is None:
        return None
    before: Decimal = row.level_ml - row.added_ml
    return before


def _at(asked: Asked, at_s: int) -> Asked:
    return replace(asked, moment=moment_at(utc_from_epoch_s(at_s), asked.moment.zone))


def drifts(compared: list[Compared]) -> bool:
    """Whether use stayed beyond the allowed difference, on the same side, often enough to tell.

    Comparisons over cases without flow or dial say nothing about the vaporizer and are left out.
    """
    told = [one.difference_percent for one in compared if not one.untold_cases]
    last = [percent for percent in told if percent is not None][-int(DRIFT_TIMES.value) :]
    most = DRIFT_PERCENT.value
    return len(last) == int(DRIFT_TIMES.value) and (
        all(percent > most for percent in last) or all(percent < -most for percent in last)
    )


def oxygen_compared(asked: Asked, machine: str) -> list[Compared]:
    """Each reading of a cylinder of known size against the one before it on the same cylinder, in
    litres, newest last. A machine that ran on the pipeline uses less than was worked out."""
    query = select(oxygen).where(
        oxygen.c.machine == machine,
        oxygen.c.cylinder_psi.is_not(None),
        oxygen.c.at_s <= asked.moment.at_s,
    )
    compared: list[Compared] = []
    before: Row[Any] | None = None
    size: str | None = None
    for row in asked.connection.execute(query.order_by(oxygen.c.at_s, oxygen.c.entry)):
        if row.event == "change":
            size = row.size
        elif before is not None and size is not None and row.cylinder_psi <= before.cylinder_psi:
            nothing = Decimal(0)
            full_l = contents_l(size, before.cylinder_psi, nothing)
            seen_l = full_l - contents_l(size, row.cylinder_psi, nothing)
            used_l, untold = _flowed_l(_at(asked, row.at_s), machine, before.at_s)
            compared.append(_compared(row, seen_l, used_l, untold))
        before = row
    return compared


def _flowed_l(asked: Asked, machine: str, since_s: int) -> tuple[Decimal, int]:
    """Litres that the flowmeter gave in the cases since an instant, and cases without a flow."""
    told = timed_segments_of(asked, cases_on(asked, machine, since_s))
    untold = sum(1 for segments in told if segments is None)
    flowed_ml = sum(
        (part.flow_ml_min * part.seconds for segments in told for part in segments or []),
        Decimal(0),
    )
    return flowed_ml / 60_000, untold
