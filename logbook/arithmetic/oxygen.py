"""What a cylinder still holds and how long that lasts; always rounded down."""

from decimal import ROUND_FLOOR, Decimal

from logbook.arithmetic.constants import (
    CYLINDER_L_PER_PSI,
    MOST_CYLINDER_L,
    MOST_CYLINDER_PSI,
    MOST_FACTOR_L_PER_PSI,
)
from logbook.arithmetic.guards import require_above_zero, require_flow_ml_min, require_within
from logbook.errors import InputError
from logbook.units import shown, whole

_ML = Decimal("0.001")


def contents_l(size: str, gauge_psi: Decimal, reserve_psi: Decimal) -> Decimal:
    """Answer the litres of oxygen above the reserve, by the factor of the cylinder's size.

    ``size`` is a letter such as ``E``; pressures in psi. Rounded down to a millilitre; nothing is
    left at or below the reserve. Factors: US respiratory-care teaching (weak, cautious).

    >>> contents_l("E", Decimal(1_200), reserve_psi=Decimal(200))
    Decimal('280.000')

    Raises:
        InputError: an unknown size, or a pressure that no cylinder has.
    """
    factor = CYLINDER_L_PER_PSI.get(size.strip().upper())
    if factor is None:
        raise InputError(
            f"cylinder {shown(size)} has no known factor; "
            f"use {', '.join(CYLINDER_L_PER_PSI)} or give its full volume and full pressure"
        )
    return contents_by_factor_l(factor.value, gauge_psi, reserve_psi)


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


def contents_by_full_volume_l(
    gauge_psi: Decimal, full_volume_l: Decimal, full_psi: Decimal, reserve_psi: Decimal
) -> Decimal:
    """Answer the litres of oxygen above the reserve, by what the cylinder holds when full.

    Volumes in L, pressures in psi; a gauge above ``full_psi`` counts as full, which errs on the
    careful side. Rounded down to a millilitre. Source: proportion (Boyle), as in Nagelhout &
    Zaglaniczy 2001, Table 14-1.

    Raises:
        InputError: what no cylinder has.
    """
    require_above_zero("full volume", full_volume_l, MOST_CYLINDER_L.value, "L")
    require_above_zero("full pressure", full_psi, MOST_CYLINDER_PSI.value, "psi")
    usable_psi = _usable_psi(min(gauge_psi, full_psi), reserve_psi)
    return _rounded_down(usable_psi * full_volume_l / full_psi)


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


def _usable_psi(gauge_psi: Decimal, reserve_psi: Decimal) -> Decimal:
    """Answer the pressure above the reserve, never less than nothing."""
    require_within("gauge", gauge_psi, Decimal(0), MOST_CYLINDER_PSI.value, "psi")
    require_within("reserve", reserve_psi, Decimal(0), MOST_CYLINDER_PSI.value, "psi")
    return max(gauge_psi - reserve_psi, Decimal(0))


def _rounded_down(litres: Decimal) -> Decimal:
    return litres.quantize(_ML, rounding=ROUND_FLOOR)
