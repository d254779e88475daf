"""Leaks, vaporizers and charcoal against published rules and measurements, by the commands that a
person types: a check, a service, and the list of what is due."""

import json
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from logbook.limits import LIMITS
from tests.conftest import Ran

Command = Callable[..., Ran]
REST = {
    "cylinder-pressure": {"value": "1500psi"},
    "vaporizer-level": "passed",
    "one-way-valves": "passed",
    "bag-and-hoses": "passed",
    "inner-tube": "not fitted",
    "absorbent-colour": {"value": "fresh"},
    "monitors": "passed",
    "pop-off-open": "passed",
}
"""The other items of the check before each case."""


def leak_test(bay1: Command, *, limit: str | None = None, **said: str) -> tuple[str, Any]:
    """What a leak test of the breathing system comes to, and the pressure that it counts at."""
    if limit is not None:
        assert bay1("rule", "set", "leak-flow", limit, "--because", "published").code == 0
    answers = json.dumps(REST | {"breathing-system-leak": said})
    check = bay1("check", "bay1", "--list", "before-case", "--answers", "-", stdin=answers)
    assert check.code in (0, 3), check.err
    body = bay1("history", "bay1", "--json").json["entries"][-1]["body"]
    found = next(one for one in body["answers"] if one["item"] == "breathing-system-leak")
    return found["state"], (found.get("judgement") or {}).get("pressure_cmh2o")


def leak_state(bay1: Command, **said: str) -> str:
    """What a leak test comes to whose pressure was read."""
    return leak_test(bay1, **said)[0]


def test_one_leak_of_250_ml_min_at_30_cmh2o_passes_coleman_2016_and_fails_the_strict_rule(
    bay1: Command,
) -> None:
    assert leak_test(bay1, value="250 mL/min") == ("failed", "30")
    assert leak_test(bay1, limit="300", value="250 mL/min") == ("passed", "30")


@pytest.mark.parametrize(("flow", "state"), [("300", "passed"), ("301", "failed")])
def test_coleman_2016_300_ml_min_or_less_is_acceptable(
    bay1: Command, flow: str, state: str
) -> None:
    assert leak_test(bay1, limit="300", value=f"{flow} mL/min") == (state, "30")


@pytest.mark.parametrize(("flow", "state"), [("200", "passed"), ("201", "failed")])
def test_a_service_firms_newsletter_more_than_200_ml_min_must_be_corrected(
    bay1: Command, flow: str, state: str
) -> None:
    assert leak_test(bay1, value=f"{flow} mL/min") == (state, "30")


@pytest.mark.parametrize(("flow", "state"), [("249", "passed"), ("251", "failed")])
def test_university_of_illinois_under_250_ml_min_at_20_cmh2o(
    bay1: Command, flow: str, state: str
) -> None:
    # Exactly 250 is left open there; here a limit itself passes, so such a clinic sets 249.
    assert bay1("rule", "set", "leak-pressure", "20", "--because", "SOP").code == 0
    assert leak_test(bay1, limit="250", value=f"{flow} mL/min") == (state, "20")
    assert leak_test(bay1, limit="249", value="250 mL/min") == ("failed", "20")


@pytest.mark.parametrize(("held", "state"), [("10", "passed"), ("9", "failed")])
def test_fda_1993_item_11_pressure_stays_fixed_at_about_30_cmh2o_for_at_least_10_seconds(
    bay1: Command, held: str, state: str
) -> None:
    assert leak_test(bay1, held_s=held) == (state, "30")


@pytest.mark.parametrize(("flow", "state"), [("75", "passed"), ("76", "failed")])
def test_astm_f1205_tubing_of_at_most_75_ml_min_at_3_0_kpa(
    bay1: Command, flow: str, state: str
) -> None:
    # 3.0 kPa are 30.6 cmH2O (see the published units), the pressure of the test to half a mark.
    assert leak_test(bay1, limit="75", value=f"{flow} mL/min") == (state, "30")


@pytest.mark.parametrize(
    ("flow", "state"),
    [("133", "passed"), ("134", "not done"), ("163", "not done"), ("164", "failed")],
)
def test_hagen_poiseuille_and_torricelli_bound_what_a_test_at_20_cmh2o_says_of_30(
    bay1: Command, flow: str, state: str
) -> None:
    # Laminar flow through a slit goes with the pressure (Hagen 1839, Poiseuille 1840), flow through
    # a hole with its root (Torricelli 1643): 200 mL/min at 30 cmH2O are 133.3 or 163.3 at 20.
    assert leak_state(bay1, value=f"{flow} mL/min", pressure="20") == state


def test_a_machine_that_just_passes_illinois_at_20_cmh2o_fails_coleman_at_30(
    bay1: Command,
) -> None:
    # 249 mL/min at 20 cmH2O are 305 to 373.5 at 30, and Coleman allows 300: the two rules are not
    # the same test at two pressures.
    assert bay1("rule", "set", "leak-flow", "300", "--because", "Coleman 2016").code == 0
    assert leak_state(bay1, value="249 mL/min", pressure="20") == "failed"
    assert leak_state(bay1, value="200 mL/min", pressure="20") == "passed"
    assert leak_state(bay1, value="246 mL/min", pressure="20 cmH2O") == "failed"
    assert leak_state(bay1, value="244 mL/min", pressure="20") == "not done"


@pytest.mark.parametrize(
    ("compliance", "end", "seconds", "state"),
    [
        # 33 mL in 10 s are 200 mL/min. A rigid system (3 mL/cmH2O) falls by 11 cmH2O, with a bag on
        # (100 mL/cmH2O) by 0.3, which no gauge shows.
        ("3", "17", "10", "failed"),
        ("3", "24", "10", "passed"),
        ("100", "29", "10", "failed"),
        ("100", "30", "10", "passed"),
    ],
)
def test_what_leaves_is_the_compliance_times_the_fall(
    bay1: Command, compliance: str, end: str, seconds: str, state: str
) -> None:
    # Volume is compliance times pressure, as ISO 4135 defines it. Myers 1997 found 28 of 54
    # planted leaks by positive pressure alone, which is why a passed time says what it can show.
    assert bay1("machine", "profile", "bay1", "--compliance", f"{compliance}mL/cmH2O").saved
    assert leak_state(bay1, held_s=seconds, pressure="30", end_pressure=end) == state


@pytest.mark.parametrize(
    ("measured", "within"), [("0.85", True), ("1.15", True), ("1.55", False), ("0.84", False)]
)
def test_nielsen_1993_vaporizers_set_to_1_percent_judged_at_15_percent(
    bay1: Command, measured: str, within: bool
) -> None:
    # Br J Anaesth 1993;71:453: 94 vaporizers; the narrowest type gave 0.85-1.15 %, the widest
    # 0.85-1.55 %, and the acceptance limits were ±15 % of the setting.
    assert LIMITS["vaporizer-output-tolerance"].value == 15
    verified = ("service", "done", "iso1", "output verification", "--outcome", "passed")
    ran = bay1(*verified, "--output", "1", measured)
    assert (ran.code == 0) is within, ran.out + ran.err
    assert ("an output lies outside the tolerance" in ran.err) is not within


def canister(bay1: Command, weight: str, *ran: str) -> dict[str, str]:
    """How a canister of 200 g when fresh stands after cases of so long and at its weight."""
    said = ("machine", "change", "bay1", "--scavenging", "charcoal", "--because", "fitted")
    assert bay1(*said, "--at", "2026-03-02 06:00").code == 0
    fresh = ("charcoal", "change", "bay1", "--weight", "200g", "--at", "2026-03-02 07:00")
    assert bay1(*fresh).code == 0
    for day, lasted in enumerate(ran, start=2):
        began = ("--began", f"2026-03-0{day} 08:00", "--ran", lasted, "--circuit", "adult")
        assert bay1("case", "log", "bay1", *began).saved
    assert bay1("charcoal", "weigh", "bay1", weight).saved
    due = bay1("due", "--all", "--json").json["items"]
    return {one["clock"]: one["standing"] for one in due if one["item"] == "charcoal"}


@pytest.mark.parametrize(
    ("gained", "cases", "by_weight", "by_hours"),
    [
        ("49", ["6h", "5h54min"], "due soon", "due soon"),
        ("50", ["1h"], "due", "ok"),
        ("0", ["6h", "6h"], "ok", "due"),
        ("51", ["6h", "7h"], "overdue", "overdue"),
    ],
)
def test_university_at_buffalo_sop_12_hours_or_50_grams_whichever_first(
    bay1: Command, gained: str, cases: list[str], by_weight: str, by_hours: str
) -> None:
    # The SOP says "exceeds 12" hours; at exactly 12 the careful reading replaces.
    standing = canister(bay1, f"{200 + int(gained)}g", *cases)
    assert (standing["weight gained"], standing["hours in use"]) == (by_weight, by_hours)


def test_smith_and_bolon_2003_canisters_leak_before_50_g_so_the_limit_itself_counts_as_full(
    bay1: Command,
) -> None:
    # Contemp Top Lab Anim Sci 2003;42(2):10: some let gas through before their 50 g were reached.
    assert canister(bay1, "250g")["weight gained"] == "due"


@pytest.mark.parametrize(
    ("flow", "grams_h"),
    # 2 % at 1 L/min is 9.2 g/h and at 2 L/min 18 g/h, by 195 mL of vapour for each mL and
    # 1.496 g/mL, as they are worked out in the literature about charcoal canisters; the vapour on
    # top of the fresh gas makes it 2 % more.
    [("1L/min", "9.2"), ("2L/min", "18.4")],
)
def test_smith_and_bolon_2003_charcoal_may_be_full_long_before_twelve_hours(
    bay1: Command, flow: str, grams_h: str
) -> None:
    # Of two brands 27 to 46 % let 5 ppm or more through before they had gained 50 g.
    assert bay1("charcoal", "change", "bay1", "--at", "2026-03-02 07:00").code == 0
    began = ("--began", "2026-03-02 08:00", "--ran", "10h", "--flow", flow, "--dial", "2")
    assert bay1("case", "log", "bay1", *began, "--circuit", "adult").code in (0, 3)
    due = bay1("due", "--all", "--json").json["items"]
    lines = {one["clock"]: one for one in due if one["item"] == "charcoal"}
    held = Decimal(lines["agent it may hold"]["used"]) / 10
    assert Decimal("1.00") <= held / Decimal(grams_h) <= Decimal("1.03")
    assert lines["agent it may hold"]["standing"] == "overdue"
    assert lines["hours in use"]["standing"] == "due soon"
