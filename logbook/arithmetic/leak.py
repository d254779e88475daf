"""Leaks of a breathing system: what one pressure tells of another, and what a timed fall shows.

A leak grows with the root of the pressure where it is a hole, and in proportion to it where it is a
narrow slit: between the two lies every leak that does not itself open or close (arithmetic: flow
through an orifice goes with the root of the pressure, through a narrow gap in proportion).
"""

import re
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import NamedTuple

from logbook.arithmetic.constants import GAUGE_STEP_CMH2O
from logbook.errors import InputError
from logbook.units import parse_decimal, parse_pressure_cmh2o, parse_volume_ml, shown
from logbook.vocabulary import COMPLIANCE_ML_CMH2O

_STEP = Decimal("0.1")
"""Flows are rounded to a tenth of a mL/min, to the side that decides less."""


class Bounds(NamedTuple):
    """What a flow in mL/min at another pressure decides: at most ``passes``, or above ``fails``;
    between the two nothing is decided."""

    passes: Decimal
    fails: Decimal


def bounds_at(most_ml_min: Decimal, at_cmh2o: Decimal, read_cmh2o: Decimal) -> Bounds:
    """The limit of a leak at one pressure, in mL/min, as bounds at the pressure that was read.

    >>> bounds_at(Decimal(200), Decimal(30), Decimal(20))
    Bounds(passes=Decimal('133.3'), fails=Decimal('163.3'))
    """
    share = read_cmh2o / at_cmh2o
    slit, hole = most_ml_min * share, most_ml_min * share.sqrt()
    return Bounds(_tenths(min(slit, hole), ROUND_FLOOR), _tenths(max(slit, hole), ROUND_CEILING))


def _tenths(value: Decimal, rounding: str) -> Decimal:
    rounded = value.quantize(_STEP, rounding)
    whole = rounded.to_integral_value()
    return whole if whole == rounded else rounded


class Fall(NamedTuple):
    """The leak in mL/min that a timed fall of the pressure means: as it was read, and at most, for
    a gauge hides less than a step."""

    read: Decimal
    most: Decimal


def leak_of_fall(
    compliance_ml_cmh2o: Decimal, begin_cmh2o: Decimal, end_cmh2o: Decimal, seconds: int
) -> Fall:
    """What leaves a system of a compliance while its pressure falls: compliance × fall ÷ time.

    >>> leak_of_fall(Decimal(3), Decimal(30), Decimal(19), 10).read
    Decimal('198')
    """
    fell = max(begin_cmh2o - end_cmh2o, Decimal(0))
    per_cmh2o = compliance_ml_cmh2o * 60 / seconds
    step = GAUGE_STEP_CMH2O.value
    return Fall(
        _tenths(per_cmh2o * fell, ROUND_FLOOR), _tenths(per_cmh2o * (fell + step), ROUND_CEILING)
    )


_MEASURED = re.compile(r"(?P<volume>[^/]+)/(?P<pressure>[^/]+)")


def parse_compliance(text: str, what: str = "compliance") -> Decimal:
    """Read a compliance in mL/cmH2O, or as gas that was put in and the pressure that it raised.

    >>> parse_compliance("3.5"), parse_compliance("100mL/40cmH2O")
    (Decimal('3.5'), Decimal('2.5'))

    Raises:
        InputError: it is no such number, or one that no breathing system has.
    """
    bare = text.strip()
    if bare.lower().endswith("ml/cmh2o"):
        value = parse_decimal(bare[: -len("ml/cmh2o")], what)
    elif parts := _MEASURED.fullmatch(bare):
        raised = parse_pressure_cmh2o(parts["pressure"], what)
        if not raised:
            raise InputError(
                f"{what} {shown(text)} raised no pressure; write it like 100mL/33cmH2O"
            )
        value = round(parse_volume_ml(parts["volume"], what) / raised, 1)
    else:
        value = parse_decimal(bare, what)
    least, most, unit, _ = COMPLIANCE_ML_CMH2O
    if not least <= value <= most:
        raise InputError(f"{what} {shown(text)} must lie between {least:f} and {most:f} {unit}")
    return value
