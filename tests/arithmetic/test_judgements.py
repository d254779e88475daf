"""Leak, vaporizer and charcoal are judged at their limits, and only like with like."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.arithmetic.charcoal import judge_charcoal, weight_gain_g
from logbook.arithmetic.leak import Verdict, judge_leak_flow, judge_leak_hold
from logbook.arithmetic.vaporizer import judge_output
from logbook.errors import InputError

THIRTY = Decimal(30)
leaks = st.decimals(min_value=0, max_value=2000, places=1, allow_nan=False)
pressures = st.decimals(min_value=0, max_value=100, places=1, allow_nan=False)
outputs = st.decimals(min_value=0, max_value=20, places=2, allow_nan=False)


@pytest.mark.parametrize(
    ("flow", "verdict"),
    [("0", "pass"), ("199", "pass"), ("200", "pass"), ("200.1", "fail"), ("240", "fail")],
)
def test_a_leak_passes_up_to_and_including_its_limit(flow: str, verdict: str) -> None:
    judgement = judge_leak_flow(THIRTY, Decimal(flow), THIRTY, Decimal(200))
    assert judgement.verdict == verdict
    assert judgement.why == f"leak {flow} mL/min at 30 cmH2O, limit 200"


def test_a_rule_that_says_under_fails_its_own_limit() -> None:
    for included, verdict in ((True, Verdict.PASS), (False, Verdict.FAIL)):
        judgement = judge_leak_flow(
            THIRTY, Decimal(250), THIRTY, Decimal(250), limit_itself_passes=included
        )
        assert judgement.verdict is verdict


@pytest.mark.parametrize(
    ("hold", "verdict"), [(0, "fail"), (9, "fail"), (10, "pass"), (30, "pass")]
)
def test_a_pressure_must_hold_for_the_whole_of_its_limit(hold: int, verdict: str) -> None:
    judgement = judge_leak_hold(THIRTY, hold, THIRTY, 10)
    assert judgement.verdict == verdict
    assert judgement.why == f"held {hold} s at 30 cmH2O, limit 10 s"


@pytest.mark.parametrize("pressure", ["0", "20", "29.9", "32.1", "40"])
def test_a_test_at_another_pressure_cannot_be_judged_and_says_what_to_do(pressure: str) -> None:
    for judgement in (
        judge_leak_flow(Decimal(pressure), Decimal(0), THIRTY, Decimal(200)),
        judge_leak_flow(Decimal(pressure), Decimal(900), THIRTY, Decimal(200)),
        judge_leak_hold(Decimal(pressure), 0, THIRTY, 10),
        judge_leak_hold(Decimal(pressure), 60, THIRTY, 10),
    ):
        assert judgement.verdict is Verdict.CANNOT_JUDGE
        assert "test again at 30 cmH2O" in judgement.why


@given(pressures, pressures.filter(bool), leaks, leaks)
def test_a_smaller_leak_is_never_judged_worse(
    pressure: Decimal, limit_pressure: Decimal, one: Decimal, other: Decimal
) -> None:
    small, large = sorted((one, other))
    limit = Decimal(200)
    verdicts = {
        judge_leak_flow(pressure, leak, limit_pressure, limit).verdict for leak in (small, large)
    }
    better = judge_leak_flow(pressure, small, limit_pressure, limit).verdict
    assert len(verdicts) == 1 or better is Verdict.PASS


@given(pressures, pressures.filter(bool), leaks)
def test_nothing_passes_below_the_pressure_of_its_limit(
    pressure: Decimal, limit_pressure: Decimal, leak: Decimal
) -> None:
    judgement = judge_leak_flow(pressure, leak, limit_pressure, Decimal(2000))
    if pressure < limit_pressure:
        assert judgement.verdict is Verdict.CANNOT_JUDGE


@pytest.mark.parametrize("bad", [Decimal(-1), Decimal(100_000), Decimal("NaN")])
def test_a_leak_test_that_cannot_be_is_refused_by_name(bad: Decimal) -> None:
    good = Decimal(200)
    with pytest.raises(InputError, match=r"^leak limit"):
        judge_leak_flow(THIRTY, good, THIRTY, bad)
    with pytest.raises(InputError, match=r"^leak "):
        judge_leak_flow(THIRTY, bad, THIRTY, good)
    with pytest.raises(InputError, match=r"^pressure limit"):
        judge_leak_flow(THIRTY, good, bad, good)
    with pytest.raises(InputError, match=r"^pressure "):
        judge_leak_flow(bad, good, THIRTY, good)


def test_a_hold_that_cannot_be_is_refused_by_name() -> None:
    for hold, limit, field in ((-1, 10, "hold"), (3601, 10, "hold"), (10, 0, "hold limit")):
        with pytest.raises(InputError, match=f"^{field} "):
            judge_leak_hold(THIRTY, hold, THIRTY, limit)
    with pytest.raises(InputError, match=r"^pressure limit 0"):
        judge_leak_hold(THIRTY, 10, Decimal(0), 10)


@pytest.mark.parametrize(
    ("dial", "measured", "error", "within"),
    [
        ("2", "2.3", "15", True),
        ("2", "1.7", "-15", True),
        ("2", "2.31", "15.5", False),
        ("2", "1.69", "-15.5", False),
        ("3", "3", "0", True),
        ("1", "0", "-100", False),
    ],
)
def test_an_output_is_within_up_to_and_including_its_tolerance(
    dial: str, measured: str, error: str, within: bool
) -> None:
    judgement = judge_output(Decimal(dial), Decimal(measured), Decimal(15))
    assert judgement.error_percent == Decimal(error)
    assert judgement.within is within


@given(outputs.filter(bool), outputs, outputs)
def test_an_output_further_from_its_dial_is_never_judged_better(
    dial: Decimal, one: Decimal, other: Decimal
) -> None:
    near, far = sorted((one, other), key=lambda output: abs(output - dial))
    tolerance = Decimal(15)
    far_within = judge_output(dial, far, tolerance).within
    assert judge_output(dial, near, tolerance).within or not far_within


def test_an_output_at_a_third_is_judged_without_a_rounding_error() -> None:
    # 15 % of 0.3 is 0.045 exactly, which binary fractions cannot hold.
    assert judge_output(Decimal("0.3"), Decimal("0.345"), Decimal(15)).within
    assert not judge_output(Decimal("0.3"), Decimal("0.3451"), Decimal(15)).within


def test_a_vaporizer_reading_that_cannot_be_is_refused_by_name() -> None:
    for dial, measured, tolerance, field in (
        ("0", "2", "15", "dial"),
        ("25", "2", "15", "dial"),
        ("2", "-1", "15", "measured output"),
        ("2", "101", "15", "measured output"),
        ("2", "2", "0", "tolerance"),
        ("NaN", "2", "15", "dial"),
    ):
        with pytest.raises(InputError, match=f"^{field} .* makes no sense here"):
            judge_output(Decimal(dial), Decimal(measured), Decimal(tolerance))


@pytest.mark.parametrize(
    ("gain", "seconds", "by_weight", "by_hours"),
    [
        ("49.9", 43_199, False, False),
        ("50", 0, True, False),
        ("0", 43_200, False, True),
        ("60", 50_000, True, True),
        ("-2", 0, False, False),
    ],
)
def test_a_canister_is_full_at_the_first_of_its_limits(
    gain: str, seconds: int, by_weight: bool, by_hours: bool
) -> None:
    judgement = judge_charcoal(Decimal(gain), seconds, Decimal(50), Decimal(12))
    assert (judgement.full_by_weight, judgement.full_by_hours) == (by_weight, by_hours)
    assert judgement.replace is (by_weight or by_hours)


def test_a_limit_of_nothing_switches_that_clock_off_and_only_that() -> None:
    assert not judge_charcoal(Decimal(900), 0, Decimal(0), Decimal(12)).replace
    assert judge_charcoal(Decimal(900), 43_200, Decimal(0), Decimal(12)).replace
    assert not judge_charcoal(Decimal(0), 900_000, Decimal(50), Decimal(0)).replace


def test_a_canister_that_got_lighter_is_asked_about_beyond_the_noise_of_a_scale() -> None:
    assert weight_gain_g(Decimal(200), Decimal("251.5")) == Decimal("51.5")
    assert weight_gain_g(Decimal(200), Decimal(195)) == -5
    with pytest.raises(InputError, match="weight now 194 g is less than the fresh 200 g"):
        weight_gain_g(Decimal(200), Decimal(194))


def test_a_canister_that_cannot_be_is_refused_by_name() -> None:
    for fresh, now, field in ((0, 200, "fresh weight"), (200, 0, "weight now"), (200, 10_001, "w")):
        with pytest.raises(InputError, match=f"^{field}"):
            weight_gain_g(Decimal(fresh), Decimal(now))
    for gain, seconds, gain_limit, hours, field in (
        (-6, 0, 50, 12, "gain"),
        (0, -1, 50, 12, "use"),
        (0, 0, -50, 12, "gain limit"),
        (0, 0, 50, -12, "hours limit"),
    ):
        with pytest.raises(InputError, match=f"^{field} .* makes no sense here"):
            judge_charcoal(Decimal(gain), seconds, Decimal(gain_limit), Decimal(hours))
