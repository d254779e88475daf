"""Use that was seen, beside use that was worked out: at each fill of a vaporizer, and between two
readings of an oxygen cylinder. The last few comparisons tell; older ones are not looked at."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from decimal import Decimal

from logbook.answers.facts import Cylinder
from logbook.answers.item import Asked
from logbook.answers.spans import Use
from logbook.answers.statements import LAST_COMPARED
from logbook.arithmetic.constants import DRIFT_PERCENT, DRIFT_TIMES
from logbook.arithmetic.oxygen import contents_l
from logbook.projections.lookup import VaporizerView
from logbook.times import utc_from_epoch_s
from logbook.value import Value


class Compared(Value):
    """Use between two readings: as seen and as worked out from dial and flow, in one unit.

    ``difference_percent`` is of the use worked out; None where nothing was worked out.
    """

    entry: int
    at: datetime
    seen: Decimal
    worked_out: Decimal
    difference_percent: Decimal | None
    untold_cases: int


def compare(entry: int, at_s: int, seen: Decimal, worked_out: Decimal, untold: int) -> Compared:
    """The two uses and their difference in whole percent."""
    percent = (seen - worked_out) * 100 / worked_out if worked_out else None
    rounded = None if percent is None else round(percent, 0)
    return Compared(entry, utc_from_epoch_s(at_s), seen, worked_out, rounded, untold)


def agent_compared(asked: Asked, view: VaporizerView) -> list[Compared]:
    """The last fills or readings of a vaporizer that tell what was used since the level before
    them, in mL of liquid, newest last.

    A fill tells the level before it only where both what was added and the level after it are
    known.
    """
    compared: list[Compared] = []
    level_ml: Decimal | None = None
    since = 0
    for level in asked.known.levels.get(view.vaporizer, []):
        if level_ml is not None and level.before_ml is not None:
            use = asked.known.used.get(since, Use())
            seen_ml = level_ml - level.before_ml
            told = (seen_ml, use.agent_ml, use.untold_cases)
            compared.append(compare(level.entry, level.at_s, *told))
        if level.level_ml is not None:
            level_ml, since = level.level_ml, level.entry
        elif level_ml is not None:
            level_ml += level.added_ml or 0
    return compared[-LAST_COMPARED:]


def drifts(compared: Sequence[Compared]) -> bool:
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
    """The last readings of a cylinder of known size, each against the one before it on the same
    cylinder, in litres, newest last. A machine that ran on the pipeline uses less than was worked
    out."""
    if len(asked.known.cylinders(machine)) > 1:
        return []  # Nobody knows which of them was open in a case.
    pairs = list(_pairs(asked.known.cylinder_readings(machine)))
    spans = [(one.entry, before.at_s, one.at_s) for before, one, _ in pairs]
    uses, nothing = asked.known.used_on(machine, spans), Decimal(0)
    compared = []
    for before, one, size in pairs:
        use = uses.get(one.entry, Use())
        full_l = contents_l(size, before.psi, nothing)
        seen_l = full_l - contents_l(size, one.psi, nothing)
        compared.append(compare(one.entry, one.at_s, seen_l, use.oxygen_l, use.untold_cases))
    return compared[-LAST_COMPARED:]


def _pairs(readings: list[Cylinder]) -> Iterator[tuple[Cylinder, Cylinder, str]]:
    """Each gauge with the one before it on the same cylinder, and the cylinder's size."""
    before: Cylinder | None = None
    size: str | None = None
    for one in readings:
        if one.changed:
            size = one.size
        elif before is not None and size is not None and one.psi <= before.psi:
            yield before, one, size
        before = one
