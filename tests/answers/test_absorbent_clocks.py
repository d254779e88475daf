"""The other clocks of the absorbent: days, carbon dioxide, agent, and what was seen at a check."""

import re
from decimal import Decimal

import pytest

from logbook.sheets.ground import ground_text
from tests.ledger.scribe import Scribe

DAYS = "days since the change"
SEEN = "seen at a check"
EXHAUSTED = {"item": "absorbent-colour", "choice": "over half changed", "absorbent_due": True}


def change(tell: Scribe, at: str, **fields: str) -> int:
    return tell("absorbent_change", at, machine="bay1", **fields)


@pytest.mark.parametrize(
    ("asked", "word"),
    [
        ("2026-03-09 12:00", "due soon"),
        ("2026-03-08 23:59", "ok"),
        ("2026-03-15 23:59", "due soon"),
        ("2026-03-16 00:00", "due"),
        ("2026-03-16 23:59", "due"),
        ("2026-03-17 00:00", "overdue"),
    ],
)
def test_fourteen_days_are_counted_by_the_calendar_of_the_clinic(
    bays: Scribe, asked: str, word: str
) -> None:
    change(bays, "2026-03-02 23:30")
    assert bays.standing(asked, "absorbent", DAYS) == word
    assert str(bays.due(asked, "absorbent", DAYS).due_on) == "2026-03-16"


def look(tell: Scribe, at: str) -> int:
    return tell.check(at, state="failed", **EXHAUSTED)


def test_exhausted_granules_seen_at_a_check_are_due_at_once(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00")
    assert bays.due("2026-03-02 20:00", "absorbent", SEEN) is None
    bays.check("2026-03-02 07:30")
    assert bays.due("2026-03-02 20:00", "absorbent", SEEN) is None
    seq = look(bays, "2026-03-02 08:00")
    assert bays.due("2026-03-02 07:59", "absorbent", SEEN) is None
    line = bays.due("2026-03-02 08:00", "absorbent", SEEN)
    assert line.standing == "due"
    seen = f"granules over half changed at the check of 2026-03-02 (entry {seq}, recorded "
    assert ground_text(line.reason).startswith(seen)
    assert bays.standing("2026-03-03 08:00", "absorbent", SEEN) == "overdue"


def test_colour_that_reverts_stays_due_until_a_change(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00")
    look(bays, "2026-03-02 08:00")
    bays.check("2026-03-02 12:00")
    assert bays.standing("2026-03-02 20:00", "absorbent", SEEN) == "due"
    change(bays, "2026-03-02 13:00")
    assert bays.due("2026-03-02 20:00", "absorbent", SEEN) is None
    look(bays, "2026-03-02 14:00")
    assert bays.standing("2026-03-02 20:00", "absorbent", SEEN) == "due"


def test_in_the_same_minute_the_order_of_writing_tells_look_and_change_apart(bays: Scribe) -> None:
    look(bays, "2026-03-02 08:00")
    change(bays, "2026-03-02 08:00")
    assert bays.due("2026-03-02 20:00", "absorbent", SEEN) is None
    look(bays, "2026-03-02 08:00")
    assert bays.standing("2026-03-02 20:00", "absorbent", SEEN) == "due"


def test_a_check_of_another_machine_says_nothing(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00")
    bays.check("2026-03-02 08:00", "bay2", state="failed", **EXHAUSTED)
    assert bays.due("2026-03-02 20:00", "absorbent", SEEN) is None


def test_agent_through_the_canister_counts_where_the_clinic_sets_a_limit(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00")
    # 3 % of 3250 mL/min for 2 h is 60 mL of isoflurane, by its 195 mL of vapour per mL of liquid.
    settings = {"flow_ml_min": "3152.5", "dial_percent": "3"}
    bays.case("2026-03-02 08:00", "2026-03-02 10:00", segments=(settings,))
    bays.case("2026-03-02 11:00", "2026-03-02 13:00", "bay2", segments=(settings,))
    assert bays.due("2026-03-02 20:00", "absorbent", "agent used") is None
    rule = {"limit": "absorbent-agent", "machine": "bay1", "reason": "the maker's advice"}
    for value, word in (("125", "ok"), ("80", "due soon"), ("60", "due"), ("59", "overdue")):
        bays("rule_change", "2026-03-02 07:00", value=value, **rule)
        line = bays.due("2026-03-02 20:00", "absorbent", "agent used")
        assert (line.used, line.standing) == (60, word)


def test_two_vaporizers_on_a_machine_count_both_unless_the_case_names_one(bays: Scribe) -> None:
    bays("vaporizer", "2026-03-01 08:00", vaporizer="sevo1", agent="sevoflurane")
    bays("vaporizer_fitting", "2026-03-01 08:00", vaporizer="sevo1", machine="bay1")
    change(bays, "2026-03-02 07:00")
    rule = {"limit": "absorbent-agent", "value": "125", "reason": "x"}
    bays("rule_change", "2026-03-01 07:00", **rule)
    # 10 mL/min of vapour for 184 × 195 s: 195 × 10 / 60 mL of sevoflurane, 184 × 10 / 60 of iso.
    settings = {"flow_ml_min": "990", "dial_percent": "1"}
    bays.case("2026-03-02 08:00", "2026-03-02 17:58", segments=(settings,))
    both = bays.due("2026-03-02 20:00", "absorbent", "agent used").used
    assert both == Decimal("63.167"), (
        "5980 mL of vapour: 30.667 mL as isoflurane and 32.5 as sevoflurane"
    )
    bays.case("2026-03-02 18:00", "2026-03-02 18:39", segments=(settings,), vaporizer="iso1")
    assert bays.due("2026-03-02 20:00", "absorbent", "agent used").used == Decimal("65.167")


def co2(tell: Scribe):
    return tell.due("2026-03-02 20:00", "absorbent", "carbon dioxide")


def test_carbon_dioxide_counts_where_the_charge_is_known(bays: Scribe) -> None:
    # 10 kg breathe out 12.41 × 10^0.75 = 69.8 mL/min: 4.19 L in an hour.
    patient = {"weight_g": "10000"}
    bays.case("2026-03-02 08:00", "2026-03-02 09:00", **patient)
    change(bays, "2026-03-02 07:00")
    assert co2(bays) is None
    change(bays, "2026-03-02 07:30", mass_g="100", absorbent_kind="soda-lime")
    line = co2(bays)
    assert (round(line.used, 4), line.standing) == (Decimal("4.1880"), "ok")
    bays.case("2026-03-02 09:00", "2026-03-02 10:00", circuit="non-rebreathing", **patient)
    assert round(co2(bays).used, 4) == Decimal("4.1880")
    bays.case("2026-03-02 10:00", "2026-03-02 11:00")
    assert round(co2(bays).used, 4) == Decimal("4.1880")
    assert "1 h without a weight not counted" in ground_text(co2(bays).reason)
    bays.case("2026-03-02 11:00", "2026-03-02 13:30", **patient)
    assert co2(bays).standing == "overdue", "14.7 of 10.4 L"


def test_the_kind_of_the_charge_counts_before_that_of_the_machine_and_unknown_is_the_least(
    bays: Scribe,
) -> None:
    change(bays, "2026-03-02 07:00", mass_g="1000")
    assert (co2(bays).limit, "of an unknown kind" in ground_text(co2(bays).reason)) == (50, True)
    told = {"machine": "bay1", "reason": "told", "absorbent_kind": "soda-lime"}
    bays("machine_change", "2026-03-02 07:10", **told)
    assert (round(co2(bays).limit), "soda lime" in ground_text(co2(bays).reason)) == (104, True)
    change(bays, "2026-03-02 07:20", mass_g="1000", absorbent_kind="without-strong-base")
    assert (co2(bays).limit, "without strong base" in ground_text(co2(bays).reason)) == (50, True)


def test_a_charge_counts_as_no_more_than_the_canister_holds(bays: Scribe) -> None:
    told = {"machine": "bay1", "reason": "told", "absorbent_g": "800"}
    bays("machine_change", "2026-03-02 07:00", **told)
    change(bays, "2026-03-02 07:10", mass_g="800")
    assert co2(bays).limit == 40
    change(bays, "2026-03-02 07:20", mass_g="801")
    assert co2(bays).limit == 40
    change(bays, "2026-03-02 07:30", mass_g="700")
    assert co2(bays).limit == 35


def test_a_charge_is_sound_on_its_last_day_and_has_expired_on_the_next(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00", expiry="2026-03-09")
    expired = "expiry date"
    assert bays.standing("2026-03-09 23:59", "absorbent", expired) == "due soon"
    assert bays.standing("2026-03-10 00:00", "absorbent", expired) == "due"
    assert bays.standing("2026-03-11 00:00", "absorbent", expired) == "overdue"
    change(bays, "2026-03-02 08:00", expiry="2026-02-28")
    assert bays.standing("2026-03-02 12:00", "absorbent", expired) == "overdue"
    change(bays, "2026-03-02 09:00")
    assert bays.due("2026-03-02 12:00", "absorbent", expired) is None


def came(tell: Scribe) -> str:
    return re.search(r"by the flows (.*) L of it", ground_text(co2(tell).reason))[1]


def test_how_much_came_to_the_granules_is_a_range_by_the_fresh_gas_of_each_setting(
    bays: Scribe,
) -> None:
    # 10 kg breathe out 4.19 L an hour.
    change(bays, "2026-03-02 07:00", mass_g="1000")
    assert came(bays) == "0 to 0"
    hour = {"duration_s": 3600}
    low, high = hour | {"flow_ml_min": "250"}, {"flow_ml_min": "2000"}
    bays.case("2026-03-02 08:00", "2026-03-02 10:00", weight_g="10000", segments=(low, high))
    assert came(bays) == "2.1 to 3.8", "50 to 90 % of the first hour, nothing of the second"
    bays.case("2026-03-02 10:00", "2026-03-02 11:00", weight_g="10000")
    assert came(bays) == "2.1 to 8", "without a flow all of it or nothing"
    bays.case("2026-03-02 11:00", "2026-03-02 12:00", segments=(low,))
    assert came(bays) == "2.1 to 8", "without a weight nothing is counted"


def test_what_a_live_case_is_told_at_its_end_counts_for_what_came_to_the_granules(
    bays: Scribe,
) -> None:
    change(bays, "2026-03-02 07:00", mass_g="1000")
    settings = ({"flow_ml_min": "2000"},)
    told = {"machine": "bay1", "circuit": "adult rebreathing", "weight_g": "10000"}
    begun = bays("case_begin", "2026-03-02 08:00", **told, segments=settings)
    assert came(bays) == "0 to 0"
    low = ({"flow_ml_min": "200"},)
    bays("case_end", "2026-03-02 09:00", case_entry=begun, segments=low)
    assert came(bays) == "3.3 to 4.2"


@pytest.mark.parametrize(
    ("limit", "clock"), [("absorbent-hours", "hours in use"), ("absorbent-days", DAYS)]
)
def test_a_clock_set_to_nothing_is_switched_off(bays: Scribe, limit: str, clock: str) -> None:
    change(bays, "2026-03-02 07:00")
    assert bays.due("2026-03-02 20:00", "absorbent", clock)
    bays("rule_change", "2026-03-02 08:00", limit=limit, value="0", reason="x")
    assert bays.due("2026-03-02 20:00", "absorbent", clock) is None
    assert bays.due("2026-03-02 07:59", "absorbent", clock)


def test_a_charge_whose_day_is_the_last_of_the_calendar_never_expires(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00", expiry="9999-12-31")
    assert bays.due("2026-03-09 12:00", "absorbent", "expiry date") is None
