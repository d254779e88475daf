"""A charcoal canister by its weight and its hours, whichever comes first."""

from decimal import Decimal

import pytest

from logbook.sheets.ground import ground_text
from tests.ledger.scribe import Scribe

AT = "2026-03-04 12:00"


@pytest.fixture
def tell(bays: Scribe) -> Scribe:
    bays("machine_change", "2026-03-01 09:00", machine="bay1", scavenging="charcoal", reason="x")
    return bays


def weigh(tell: Scribe, at: str, grams: str) -> int:
    return tell("charcoal_weight", at, machine="bay1", weight_g=grams)


def test_only_a_machine_with_charcoal_is_asked_about_it(tell: Scribe) -> None:
    line = tell.due(AT, "charcoal", "hours in use")
    assert (line.standing, ground_text(line.reason)) == ("no record", "no change is recorded")
    assert tell.due(AT, "charcoal", "hours in use", "bay2") is None
    tell("charcoal_change", "2026-03-02 07:00", machine="bay2")
    assert tell.standing(AT, "charcoal", "hours in use", "bay2") == "ok"


def test_twelve_hours_on_any_circuit_are_due(tell: Scribe) -> None:
    tell("charcoal_change", "2026-03-02 07:00", machine="bay1")
    tell.case("2026-03-02 08:00", "2026-03-02 17:00", circuit="non-rebreathing")
    assert tell.standing(AT, "charcoal", "hours in use") == "due soon"
    tell.case("2026-03-03 08:00", "2026-03-03 11:00")
    line = tell.due(AT, "charcoal", "hours in use")
    assert (line.used, line.standing) == (12, "due")
    tell.case("2026-03-03 11:00", "2026-03-03 11:01")
    assert tell.standing(AT, "charcoal", "hours in use") == "overdue"
    tell("charcoal_change", "2026-03-03 11:00:30", machine="bay1")
    assert round(tell.due(AT, "charcoal", "hours in use").used * 3600) == 30


@pytest.mark.parametrize(
    ("grams", "word"),
    [("237.4", "ok"), ("237.5", "due soon"), ("250", "due"), ("250.1", "overdue")],
)
def test_fifty_grams_gained_are_due(tell: Scribe, grams: str, word: str) -> None:
    tell("charcoal_change", "2026-03-02 07:00", machine="bay1", weight_g="200")
    assert tell.due(AT, "charcoal", "weight gained") is None
    weigh(tell, "2026-03-03 07:00", grams)
    assert tell.standing(AT, "charcoal", "weight gained") == word


def test_a_canister_that_dried_keeps_its_heaviest_weight(tell: Scribe) -> None:
    tell("charcoal_change", "2026-03-02 07:00", machine="bay1", weight_g="200")
    weigh(tell, "2026-03-03 07:00", "250")
    weigh(tell, "2026-03-04 07:00", "230")
    assert tell.due(AT, "charcoal", "weight gained").used == Decimal("50")
    assert tell.due("2026-03-02 12:00", "charcoal", "weight gained") is None
    tell("charcoal_change", "2026-03-04 08:00", machine="bay1", weight_g="201")
    assert tell.due(AT, "charcoal", "weight gained") is None


def test_without_a_fresh_weight_the_hours_count_alone(tell: Scribe) -> None:
    tell("charcoal_change", "2026-03-02 07:00", machine="bay1")
    weigh(tell, "2026-03-03 07:00", "200")
    weigh(tell, "2026-03-04 07:00", "300")
    assert tell.due(AT, "charcoal", "weight gained") is None
    assert tell.standing(AT, "charcoal", "hours in use") == "ok"


SENT = "agent it may hold"
SETTINGS = {"flow_ml_min": "2000", "dial_percent": "2"}
"""For an hour 12.56 mL of isoflurane, which weigh 18.8 g."""


def test_all_agent_that_cases_sent_counts_until_the_canister_is_weighed(tell: Scribe) -> None:
    tell("charcoal_change", "2026-03-02 07:00", machine="bay1", weight_g="200")
    tell.case("2026-03-02 08:00", "2026-03-02 10:00", segments=(SETTINGS,))
    line = tell.due(AT, "charcoal", SENT)
    assert (round(line.used, 1), line.standing) == (Decimal("37.6"), "due soon")
    assert ground_text(line.reason) == "all agent sent since the last change 2026-03-02 07:00"
    weigh(tell, "2026-03-02 11:00", "212")
    assert tell.due(AT, "charcoal", SENT) is None
    tell.case("2026-03-03 08:00", "2026-03-03 10:00", segments=(SETTINGS,))
    line = tell.due(AT, "charcoal", SENT)
    assert (round(line.used, 1), line.standing) == (Decimal("49.6"), "due soon")
    assert ground_text(line.reason) == "all agent sent since the last weighing 2026-03-02 11:00"
    tell.case("2026-03-03 11:00", "2026-03-03 11:05", segments=(SETTINGS,))
    assert tell.standing(AT, "charcoal", SENT) == "overdue"
    tell("charcoal_change", "2026-03-03 12:00", machine="bay1")
    assert tell.due(AT, "charcoal", SENT).used == 0


def test_a_canister_that_was_not_weighed_fresh_tells_nothing_by_a_later_weight(
    tell: Scribe,
) -> None:
    tell("charcoal_change", "2026-03-02 07:00", machine="bay1")
    tell.case("2026-03-02 08:00", "2026-03-02 10:00", segments=(SETTINGS,))
    weigh(tell, "2026-03-02 11:00", "212")
    assert round(tell.due(AT, "charcoal", SENT).used, 1) == Decimal("37.6")


def test_each_agent_weighs_what_it_weighs_and_cases_that_told_no_dial_are_counted_apart(
    tell: Scribe,
) -> None:
    tell("vaporizer", "2026-03-01 08:00", vaporizer="sevo1", agent="sevoflurane")
    tell("charcoal_change", "2026-03-02 07:00", machine="bay1")
    tell.case("2026-03-02 08:00", "2026-03-02 09:00", segments=(SETTINGS,), vaporizer="sevo1")
    tell.case("2026-03-02 10:00", "2026-03-02 11:00")
    line = tell.due(AT, "charcoal", SENT)
    # 13.31 mL of sevoflurane at 1.53 g/mL.
    assert round(line.used, 1) == Decimal("20.4")
    assert ground_text(line.reason).endswith(", 1 without flow or dial not counted")


def test_the_clock_of_agent_sent_can_be_switched_off(tell: Scribe) -> None:
    tell("charcoal_change", "2026-03-02 07:00", machine="bay1")
    assert tell.due(AT, "charcoal", SENT)
    tell("rule_change", "2026-03-02 08:00", limit="charcoal-agent", value="0", reason="weighed")
    assert tell.due(AT, "charcoal", SENT) is None
