"""Cylinders against the real gas of the library CoolProp (Schmidt & Wagner 1985)."""

from collections.abc import Callable
from decimal import Decimal
from itertools import product

import pytest
from CoolProp.CoolProp import PropsSI

from logbook.arithmetic.constants import CYLINDER_L_PER_PSI, FULL_CYLINDERS
from logbook.arithmetic.oxygen import contents_l

ROOM_K, ATMOSPHERE_PA, PSI_PA = 293.15, 101_325.0, 6894.757293168


def volumes(gauge_psi: float) -> float:
    """Volumes of oxygen at 20 °C and 1 atm that a volume holds at a gauge, by CoolProp."""
    pressed = PropsSI("D", "T", ROOM_K, "P", gauge_psi * PSI_PA + ATMOSPHERE_PA, "Oxygen")
    return float(pressed / PropsSI("D", "T", ROOM_K, "P", ATMOSPHERE_PA, "Oxygen"))


@pytest.mark.parametrize(
    ("water_l", "gauge_psi", "reserve_psi"),
    [(2.8, 1900, 200), (4.7, 500, 0), (10, 2900, 200), (43.2, 4350, 200), (10, 5000, 0)],
)
def test_a_cylinder_by_its_water_volume_never_promises_more_than_the_gas_or_the_line(
    run_logbook: Callable, water_l: float, gauge_psi: int, reserve_psi: int
) -> None:
    told = run_logbook(
        *("oxygen", "left", "--water", f"{water_l}L", "--gauge", f"{gauge_psi}psi"),
        *("--reserve", f"{reserve_psi}psi", "--flow", "2L/min", "--json"),
    ).json
    gas_l = water_l * (volumes(gauge_psi) - volumes(reserve_psi))
    line_l = water_l * (gauge_psi - reserve_psi) * PSI_PA / ATMOSPHERE_PA
    smaller = min(gas_l, line_l)
    assert smaller * 0.9994 < float(told["usable_l"]) < smaller * 1.0006


def test_a_300_bar_cylinder_holds_less_than_litres_times_bar() -> None:
    # At 5000 psi the gas is 1.4 % less than the line, so that the smaller of both is the gas.
    assert volumes(5000) - 1 < 5000 * PSI_PA / ATMOSPHERE_PA * 0.99


@pytest.mark.parametrize(
    ("size", "gauge_psi"), list(product(CYLINDER_L_PER_PSI, (300, 500, 900, 1000, 1500, 2200)))
)
def test_no_letter_promises_more_than_the_gas_of_its_full_cylinder(
    size: str, gauge_psi: int
) -> None:
    full = FULL_CYLINDERS[size]
    full_psi = float(full.gauge_psi.value)
    share = (volumes(gauge_psi) - volumes(200)) / (volumes(full_psi) - 1)
    gas_l = float(full.volume_l.value) * share
    found = float(contents_l(size, Decimal(gauge_psi), Decimal(200)))
    line_l = float(CYLINDER_L_PER_PSI[size].value) * (gauge_psi - 200)
    assert found <= min(gas_l, line_l) * 1.001
    assert found >= min(gas_l, line_l) * 0.999
