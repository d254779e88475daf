"""Oxygen, agent and absorbent: rounding is never on the unsafe side, and more use leaves less."""

import decimal
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.arithmetic.absorbent import capacity_l, co2_output_ml_min
from logbook.arithmetic.agent import PL_PER_UL, Stretch, liquid_used_ml, vaporizing
from logbook.arithmetic.constants import AGENTS, CYLINDER_L_PER_PSI
from logbook.arithmetic.oxygen import contents_by_full_volume_l, contents_l, minutes_left
from logbook.errors import InputError


def numbers(low: float, high: float, places: int = 1) -> st.SearchStrategy[Decimal]:
    return st.decimals(
        min_value=Decimal(str(low)), max_value=Decimal(str(high)), places=places, allow_nan=False
    )


agents = st.sampled_from(sorted(AGENTS))
sizes = st.sampled_from(sorted(CYLINDER_L_PER_PSI))
flows = numbers(1, 15_000)
dials = numbers(0.1, 18)
segments = st.builds(Stretch, st.integers(1, 86_400), flows, numbers(0, 18))
NOT_NUMBERS = (Decimal("NaN"), Decimal("Infinity"), Decimal("-Infinity"))


@given(sizes, numbers(0, 3000), numbers(0, 3000), numbers(0, 500))
def test_more_pressure_never_means_less_oxygen(
    size: str, one: Decimal, other: Decimal, reserve: Decimal
) -> None:
    low, high = sorted((one, other))
    assert contents_l(size, low, reserve) <= contents_l(size, high, reserve)
    assert contents_by_full_volume_l(
        low, Decimal(660), Decimal(1900), reserve
    ) <= contents_by_full_volume_l(high, Decimal(660), Decimal(1900), reserve)


@given(numbers(0, 7000), flows, flows)
def test_more_flow_never_leaves_more_time(litres: Decimal, one: Decimal, other: Decimal) -> None:
    low, high = sorted((one, other))
    assert minutes_left(litres, low) >= minutes_left(litres, high)


@given(numbers(0, 7000), flows)
def test_the_minutes_left_never_use_more_than_there_is(litres: Decimal, flow: Decimal) -> None:
    minutes = minutes_left(litres, flow)
    assert minutes * flow <= litres * 1000 < (minutes + 1) * flow


@given(sizes, numbers(0, 3000), numbers(0, 3000))
def test_a_reserve_is_never_counted_on(size: str, gauge: Decimal, reserve: Decimal) -> None:
    left = contents_l(size, gauge, reserve)
    assert left <= contents_l(size, gauge, Decimal(0))
    assert left <= max(gauge - reserve, Decimal(0)) * CYLINDER_L_PER_PSI[size].value
    if gauge <= reserve:
        assert left == 0


def test_an_overfilled_gauge_counts_as_full() -> None:
    full = (Decimal(660), Decimal(1900), Decimal(0))
    assert contents_by_full_volume_l(Decimal(2500), *full) == 660


@pytest.mark.parametrize("gauge", [Decimal(-1), Decimal(5001), *NOT_NUMBERS])
def test_a_pressure_that_no_cylinder_has_is_refused_by_name(gauge: Decimal) -> None:
    with pytest.raises(InputError, match=r"^gauge .* psi makes no sense here"):
        contents_l("E", gauge, Decimal(200))
    with pytest.raises(InputError, match=r"^reserve .* psi makes no sense here"):
        contents_l("E", Decimal(1000), gauge)


def test_other_impossible_cylinders_are_refused_in_words() -> None:
    with pytest.raises(InputError, match="cylinder Q has no known factor; use D, E, G, H, K, M"):
        contents_l("Q", Decimal(1000), Decimal(200))
    for volume, pressure in ((0, 1900), (660, 0), (20_001, 1900), (660, 5001)):
        with pytest.raises(InputError, match=r"^full (volume|pressure)"):
            contents_by_full_volume_l(Decimal(1000), Decimal(volume), Decimal(pressure), Decimal(0))
    for flow in (Decimal(0), Decimal(-1), Decimal(20_001), *NOT_NUMBERS):
        with pytest.raises(InputError, match=r"^flow"):
            minutes_left(Decimal(100), flow)


@given(agents, st.lists(segments, min_size=1, max_size=6))
def test_the_agent_used_is_rounded_up_and_by_no_more_than_a_microlitre(
    agent: str, parts: list[Stretch]
) -> None:
    vapour_ml = sum(
        part.flow_ml_min * part.dial_percent / (100 - part.dial_percent) * part.seconds / 60
        for part in parts
    )
    exact = vapour_ml / AGENTS[agent].vapour_ml_per_ml.value
    used = liquid_used_ml(agent, parts)
    # Vapour is counted in whole pL/min, rounded up, which the margin allows for: below 1 nL.
    assert exact - Decimal("1E-15") <= used <= exact + Decimal("0.001") + Decimal("0.000001")


@given(agents, st.lists(segments, min_size=1, max_size=4), segments)
def test_another_segment_never_makes_the_use_smaller(
    agent: str, parts: list[Stretch], more: Stretch
) -> None:
    assert liquid_used_ml(agent, [*parts, more]) >= liquid_used_ml(agent, parts)


def test_a_closed_dial_uses_nothing() -> None:
    closed = Stretch(3600, Decimal(1000), Decimal(0))
    assert liquid_used_ml("isoflurane", [closed]) == 0


@pytest.mark.parametrize(
    ("part", "field"),
    [
        (Stretch(0, Decimal(1000), Decimal(2)), "time 0 s"),
        (Stretch(-60, Decimal(1000), Decimal(2)), "time -60 s"),
        (Stretch(172_801, Decimal(1000), Decimal(2)), "time 172801 s"),
        (Stretch(60, Decimal(0), Decimal(2)), "flow 0 mL/min"),
        (Stretch(60, Decimal(20_001), Decimal(2)), "flow 20001 mL/min"),
        (Stretch(60, Decimal(1000), Decimal(-1)), "dial -1 %"),
        (Stretch(60, Decimal(1000), Decimal(25)), "dial 25 %"),
        (Stretch(60, Decimal("NaN"), Decimal(2)), "flow NaN mL/min"),
        (Stretch(60, Decimal(1000), Decimal("Infinity")), "dial Infinity %"),
    ],
)
def test_a_setting_that_no_machine_has_is_refused_by_name(part: Stretch, field: str) -> None:
    with pytest.raises(InputError, match=f"^{field} makes no sense here; it must"):
        liquid_used_ml("sevoflurane", [Stretch(60, Decimal(1000), Decimal(2)), part])


def test_an_unknown_agent_or_a_case_without_a_segment_is_refused() -> None:
    with pytest.raises(InputError, match="agent ether is not known; use isoflurane, sevoflurane"):
        liquid_used_ml("ether", [Stretch(60, Decimal(1000), Decimal(2))])
    with pytest.raises(InputError, match="isoflurane has no segment"):
        liquid_used_ml("isoflurane", [])


@given(numbers(10, 200_000), numbers(10, 200_000))
def test_more_weight_never_loads_the_absorbent_less(one: Decimal, other: Decimal) -> None:
    light, heavy = sorted((one, other))
    assert co2_output_ml_min(light) <= co2_output_ml_min(heavy)


@given(numbers(50, 10_000), numbers(50, 10_000))
def test_a_smaller_charge_never_takes_more_and_is_rounded_down(
    one: Decimal, other: Decimal
) -> None:
    small, large = sorted((one, other))
    assert capacity_l(small, "soda-lime") <= capacity_l(large, "soda-lime")
    assert capacity_l(small, "soda-lime") <= small * 19 / 100 / Decimal("44.01") * Decimal("24.055")


@given(numbers(100, 100_000))
def test_the_load_does_not_depend_on_the_callers_precision(weight: Decimal) -> None:
    usual = co2_output_ml_min(weight)
    with decimal.localcontext(prec=50):
        assert co2_output_ml_min(weight) == usual


def test_a_patient_or_a_charge_that_cannot_be_is_refused_by_name() -> None:
    for weight in (Decimal(0), Decimal(200_001), *NOT_NUMBERS):
        with pytest.raises(InputError, match=r"^weight"):
            co2_output_ml_min(weight)
    for charge in (Decimal(0), Decimal(49), Decimal(10_001), *NOT_NUMBERS):
        with pytest.raises(InputError, match=r"^charge .* g makes no sense here"):
            capacity_l(charge, "soda-lime")


@pytest.mark.parametrize(("air", "fits"), [("45", 1), ("44.9", 0), ("110", 1), ("110.1", 0)])
def test_air_that_there_is_nowhere_is_refused(air: str, fits: int) -> None:
    hour = [Stretch(3600, Decimal(1000), Decimal(2))]
    if fits:
        assert liquid_used_ml("isoflurane", hour, air_kpa=Decimal(air)) >= Decimal("6.28")
        return
    with pytest.raises(
        InputError, match=r"^air .* makes no sense here; it must lie from 45 to 110"
    ):
        liquid_used_ml("isoflurane", hour, air_kpa=Decimal(air))


@pytest.mark.parametrize("agent", sorted(AGENTS))
def test_vapour_of_a_microlitre_is_rounded_down_so_that_more_liquid_counts(agent: str) -> None:
    exact = AGENTS[agent].vapour_ml_per_ml.value * 60 * PL_PER_UL
    assert 0 <= exact - vaporizing(agent, "variable-bypass", None).per_ul < 1
