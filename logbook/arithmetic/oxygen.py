"""What a cylinder still holds and how long that lasts; always rounded down.

A straight line from full promises up to 4 % too much below half, because compressed oxygen is not
quite in proportion to its pressure; so wherever a full cylinder is known, the smaller of the
straight line and of the real gas counts.
"""

import re
from bisect import bisect_left
from collections.abc import Mapping
from decimal import ROUND_FLOOR, Context, Decimal

from logbook.arithmetic.allowed import Allowed, about
from logbook.arithmetic.constants import (
    ATMOSPHERE_PSI,
    CYLINDER_L_PER_PSI,
    FULL_CYLINDERS,
    MOST_CYLINDER_L,
    MOST_CYLINDER_PSI,
    MOST_FACTOR_L_PER_PSI,
    OXYGEN_COMPRESSIBILITY,
)
from logbook.arithmetic.guards import require_above_zero, require_flow_ml_min, require_within
from logbook.errors import InputError
from logbook.units import format_decimal, shown, whole
from logbook.vocabulary import WATER_L

_ML = Decimal("0.001")
_WATER = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,3})?)L")

# One context of our own, so that no caller's precision can change a sum.
_CONTEXT = Context(prec=40)


def contents_l(size: str, gauge_psi: Decimal, reserve_psi: Decimal) -> Decimal:
    """Answer the litres of oxygen above the reserve, by the size of a cylinder.

    ``size`` is a letter of the United States such as ``E``, or a water volume such as ``4.7L``;
    pressures in psi. Rounded down to a millilitre; nothing is left at or below the reserve.
    Factors of letters: US respiratory-care teaching (weak, cautious).

    >>> contents_l("E", Decimal(1_200), reserve_psi=Decimal(200))
    Decimal('280.000')

    Raises:
        InputError: an unknown size, or a pressure that no cylinder has.
    """
    letter = size.strip().upper()
    if water := _WATER.fullmatch(letter):
        return contents_by_water_l(Decimal(water[1]), gauge_psi, reserve_psi)
    factor = CYLINDER_L_PER_PSI.get(letter)
    if factor is None:
        raise InputError(
            f"cylinder {shown(size)} has no known factor; "
            f"use {', '.join(CYLINDER_L_PER_PSI)} or give its water volume"
        )
    full = FULL_CYLINDERS[letter]
    return min(
        contents_by_factor_l(factor.value, gauge_psi, reserve_psi),
        _real_gas_l(full.volume_l.value, full.gauge_psi.value, gauge_psi, reserve_psi),
    )


def contents_by_factor_l(
    factor_l_per_psi: Decimal, gauge_psi: Decimal, reserve_psi: Decimal
) -> Decimal:
    """Answer the litres of oxygen above the reserve, by a factor in L/psi that the caller knows.

    Pressures in psi; rounded down to a millilitre.

    Raises:
        InputError: what no cylinder has.
    """
    require_above_zero("factor", factor_l_per_psi, MOST_FACTOR_L_PER_PSI.value, "L/psi")
    return _rounded_down(_usable_psi(gauge_psi, reserve_psi) * factor_l_per_psi)


def contents_by_water_l(water_l: Decimal, gauge_psi: Decimal, reserve_psi: Decimal) -> Decimal:
    """Answer the litres of oxygen above the reserve, by the water volume stamped on the cylinder.

    Volumes in L, pressures in psi; rounded down to a millilitre. Source: its volume times its
    pressure in atmospheres (Boyle), or the real gas where that is less, as it is near 300 bar.

    Raises:
        InputError: what no cylinder has.
    """
    require_within("water volume", water_l, WATER_L.least, WATER_L.most, "L")
    usable_psi = _usable_psi(gauge_psi, reserve_psi)
    line_l = _CONTEXT.divide(water_l * usable_psi, ATMOSPHERE_PSI.value)
    gas_l = water_l * _volumes_between(gauge_psi, min(reserve_psi, gauge_psi))
    return _rounded_down(min(line_l, gas_l))


def contents_by_full_volume_l(
    gauge_psi: Decimal, full_volume_l: Decimal, full_psi: Decimal, reserve_psi: Decimal
) -> Decimal:
    """Answer the litres of oxygen above the reserve, by what the cylinder holds when full.

    Volumes in L, pressures in psi; a gauge above ``full_psi`` counts as full, which errs on the
    careful side. Rounded down to a millilitre. Source: proportion (Boyle), as in Nagelhout &
    Zaglaniczy 2001, Table 14-1, or the real gas where that is less.

    Raises:
        InputError: what no cylinder has.
    """
    require_above_zero("full volume", full_volume_l, MOST_CYLINDER_L.value, "L")
    require_above_zero("full pressure", full_psi, MOST_CYLINDER_PSI.value, "psi")
    seen_psi = min(gauge_psi, full_psi)
    line_l = _rounded_down(_usable_psi(seen_psi, reserve_psi) * full_volume_l / full_psi)
    return min(line_l, _real_gas_l(full_volume_l, full_psi, seen_psi, reserve_psi))


def pipeline_allowed(limits: Mapping[str, Decimal]) -> Allowed:
    """Answer what a pipeline may show in psi: too high is a finding as too low is.

    ``limits`` are the values in force, by their names.
    """
    return about(limits["pipeline"], limits["pipeline-tolerance"])


def least_gauge_psi(
    size: str, minutes: Decimal, flow_ml_min: Decimal, reserve_psi: Decimal
) -> Decimal | None:
    """Answer the least whole psi at which a cylinder lasts so long above its reserve; None where
    it never does.

    >>> least_gauge_psi("E", Decimal(112), Decimal(2_000), Decimal(200))
    Decimal('1000')
    """
    wanted_l = minutes * flow_ml_min / 1000
    highest = int(MOST_CYLINDER_PSI.value)
    gauges = range(highest + 1)
    at = bisect_left(gauges, wanted_l, key=lambda psi: contents_l(size, Decimal(psi), reserve_psi))
    return Decimal(at) if at <= highest else None


def minutes_left(usable_l: Decimal, flow_ml_min: Decimal) -> int:
    """Answer the whole minutes that ``usable_l`` litres last at a flow in mL/min, rounded down.

    >>> minutes_left(Decimal(280), Decimal(1_000))
    280

    Raises:
        InputError: a flow that no flowmeter has, or an impossible volume.
    """
    require_within("oxygen", usable_l, Decimal(0), MOST_CYLINDER_L.value, "L")
    require_flow_ml_min(flow_ml_min)
    return whole(usable_l * 1000 / flow_ml_min, ROUND_FLOOR)


def _real_gas_l(
    full_volume_l: Decimal, full_psi: Decimal, gauge_psi: Decimal, reserve_psi: Decimal
) -> Decimal:
    """Answer what compressed oxygen leaves above the reserve, of a cylinder whose full is known."""
    share = _CONTEXT.divide(
        _volumes_between(gauge_psi, min(reserve_psi, gauge_psi)),
        _volumes_between(full_psi, Decimal(0)),
    )
    return _rounded_down(_CONTEXT.multiply(full_volume_l, share))


def _volumes_between(high_psi: Decimal, low_psi: Decimal) -> Decimal:
    return _CONTEXT.subtract(_volumes(high_psi), _volumes(low_psi))


def _volumes(gauge_psi: Decimal) -> Decimal:
    """How many times its own volume of oxygen at 1 atm and 20 °C a cylinder holds at a gauge."""
    thousands, z = gauge_psi / 1000, Decimal(1)
    for power, coefficient in enumerate(OXYGEN_COMPRESSIBILITY, start=1):
        z = _CONTEXT.add(z, _CONTEXT.multiply(coefficient.value, thousands**power))
    atmospheres = _CONTEXT.divide(gauge_psi + ATMOSPHERE_PSI.value, ATMOSPHERE_PSI.value)
    return _CONTEXT.divide(atmospheres, z)


def _usable_psi(gauge_psi: Decimal, reserve_psi: Decimal) -> Decimal:
    """Answer the pressure above the reserve, never less than nothing."""
    require_within("gauge", gauge_psi, Decimal(0), MOST_CYLINDER_PSI.value, "psi")
    require_within("reserve", reserve_psi, Decimal(0), MOST_CYLINDER_PSI.value, "psi")
    return max(gauge_psi - reserve_psi, Decimal(0))


def _rounded_down(litres: Decimal) -> Decimal:
    return litres.quantize(_ML, rounding=ROUND_FLOOR)


def gauge(value_psi: Decimal) -> str:
    """A reading in psi as a hand would write it, no finer than a gauge: 124 bar are stored to a
    thousandth of a psi."""
    return format_decimal(round(value_psi, 0 if value_psi >= 100 else 1))


def measured(value: Decimal, unit: str | None) -> str:
    """A value with its unit, a pressure of oxygen as its gauge shows it.

    >>> measured(Decimal("1798.468"), "psi")
    '1798 psi'
    """
    return f"{gauge(value) if unit == 'psi' else format_decimal(value)} {unit}"
