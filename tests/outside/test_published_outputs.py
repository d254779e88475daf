"""A vaporizer's output in thin air and over the years, against published sums, by the commands
that a person types."""

import statistics
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from logbook.arithmetic.air import usual_pressure_kpa
from tests.conftest import Ran

Command = Callable[..., Ran]


def verified(bay1: Command, tag: str, dial: str, measured: str, air: str) -> Any:
    """The one output of the newest verification, as the vaporizer's sheet tells it."""
    said = ("vaporizer", "verify", tag, "--output", dial, measured, "--ambient-pressure", air)
    ran = bay1(*said)
    assert ran.code in (0, 3), ran.err
    shown = bay1("vaporizer", "show", tag, "--json").json["outputs"]
    return shown["verifications"][-1]["worst"]


def test_frca_notes_one_percent_dialled_at_50_5_kpa_delivers_two_percent(bay1: Command) -> None:
    # "The effect of altitude on inhaled anaesthesia": %delivered = 1% x 101.3 / 50.5 = 2 %.
    seen = verified(bay1, "iso1", "1", "2", "50.5kPa")
    assert round(Decimal(seen["expected_percent"]), 1) == 2
    assert seen["within"]


def test_frca_notes_a_heated_vaporizer_of_desflurane_keeps_its_percent(bay1: Command) -> None:
    # The same page: "the concentration delivered ... is constant regardless of ambient pressure".
    assert bay1("vaporizer", "add", "des1", "--agent", "desflurane").code == 0
    assert verified(bay1, "des1", "2", "2", "50.5kPa")["bias_percent"] == "0"
    assert not verified(bay1, "des1", "2", "4", "50.5kPa")["within"]


@pytest.mark.parametrize("air", ["70", "84", "95", "101.3", "106"])
def test_a_makers_instructions_measured_percent_times_pressure_by_101_3_is_the_dial(
    bay1: Command, air: str
) -> None:
    # A maker's instructions for use, influence of atmospheric pressure, 70 to 106 kPa:
    # % partial pressure = measured vol % x atmospheric pressure / 101.3 kPa.
    measured = round(3 * Decimal("101.3") / Decimal(air), 4)
    seen = verified(bay1, "iso1", "3", str(measured), f"{air}kPa")
    assert abs(Decimal(seen["bias_percent"])) <= Decimal("0.1")


def test_at_84_kpa_a_sound_vaporizer_at_2_shows_2_41_and_would_fail_uncorrected(
    bay1: Command,
) -> None:
    thin = verified(bay1, "iso1", "2", "2.41", "84kPa")
    assert (thin["expected_percent"], thin["within"]) == ("2.412", True)
    assert not verified(bay1, "iso1", "2", "2.41", "101.325kPa")["within"]


@pytest.mark.parametrize(("measured", "within"), [("0.29", True), ("0.30", True), ("0.31", False)])
def test_nielsen_1993_an_analyser_tells_0_05_vol_percent_so_that_nothing_finer_is_judged(
    bay1: Command, measured: str, within: bool
) -> None:
    # Br J Anaesth 1993;71:453: "The resolution of the monitor is ±0.05 vol%"; 15 % of a dial of
    # 0.25 would be 0.0375.
    assert verified(bay1, "iso1", "0.25", measured, "101.3kPa")["within"] is within


@pytest.mark.parametrize(("altitude_m", "pressure_pa"), [(0, "101325.00"), (11_000, "22632.10")])
def test_us_standard_atmosphere_1976_static_pressure_at_its_lowest_two_levels(
    altitude_m: int, pressure_pa: str
) -> None:
    printed_kpa = Decimal(pressure_pa) / 1000
    assert abs(usual_pressure_kpa(Decimal(altitude_m)) - printed_kpa) <= Decimal("0.05")


def test_drift_is_the_slope_that_the_standard_library_finds(bay1: Command) -> None:
    seen = {date(2022, 3, 1): "2.03", date(2023, 4, 15): "1.98", date(2024, 3, 20): "1.94",
            date(2025, 6, 30): "1.95", date(2026, 3, 2): "1.87"}  # fmt: skip
    for day, measured in seen.items():
        said = ("vaporizer", "verify", "iso1", "--output", "2", measured)
        assert bay1(*said, "--at", f"{day} 10:00").saved
    (drift,) = bay1("vaporizer", "show", "iso1", "--json").json["outputs"]["drifts"]
    days = [day.toordinal() for day in seen]
    line = statistics.linear_regression(days, [float(one) / 2 for one in seen.values()])
    assert abs(float(drift["percent_a_year"]) - line.slope * 365.25 * 100) <= 0.05
    leaves = (0.85 - line.intercept) / line.slope
    assert drift["leaves_on"] == date.fromordinal(int(leaves)).isoformat()
