"""How much agent is probably left: never more than what was read less what was surely used."""

from decimal import Decimal

from logbook.answers.agent import AgentLeft, agent_left
from tests.ledger.scribe import Scribe

HOUR_OF_10_ML = {"flow_ml_min": "1592.5", "dial_percent": "2"}
"""1592.5 mL/min × 0.02 ÷ 0.98 × 60 min ÷ 195 mL of vapour per mL of liquid isoflurane."""


def left(tell: Scribe, at: str = "2026-03-06 12:00", tag: str = "iso1") -> AgentLeft:
    asked = tell.ask(at)
    return agent_left(asked, asked.vaporizers[tag])


def fill(tell: Scribe, at: str, **ml: str) -> int:
    return tell("agent_fill", at, vaporizer="iso1", **ml)


def test_without_a_level_nothing_is_said(bays: Scribe) -> None:
    assert left(bays).left_ml is None
    fill(bays, "2026-03-02 07:00", added_ml="100")
    assert (left(bays).left_ml, left(bays).low) == (None, False)


def test_use_since_the_last_level_is_taken_off(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="200")
    bays.case("2026-03-02 08:00", "2026-03-02 10:00", segments=(HOUR_OF_10_ML,))
    assert left(bays).left_ml == 180
    bays("agent_level", "2026-03-02 18:00", vaporizer="iso1", level_ml="175.5")
    assert left(bays).left_ml == Decimal("175.5")
    assert left(bays, "2026-03-02 17:59").left_ml == 180
    assert left(bays, "2026-03-02 07:30").left_ml == 200


def test_agent_added_without_a_level_stands_on_the_estimate_before_it(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="100")
    bays.case("2026-03-02 08:00", "2026-03-02 10:00", segments=(HOUR_OF_10_ML,))
    fill(bays, "2026-03-02 11:00", added_ml="40")
    fill(bays, "2026-03-02 12:00", added_ml="2.5")
    assert left(bays).left_ml == Decimal("122.5")
    assert left(bays, "2026-03-02 11:30").left_ml == 120


def test_a_level_told_with_a_fill_counts_alone(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="200", added_ml="50")
    assert left(bays).left_ml == 200


def test_each_segment_counts_its_time_and_the_last_one_the_rest(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="200")
    segments = (
        {"duration_s": 1800, "flow_ml_min": "3120", "dial_percent": "4"},  # 20 mL
        {"duration_s": 1800, "flow_ml_min": "0", "dial_percent": "2"},
        HOUR_OF_10_ML,
    )
    bays.case("2026-03-02 08:00", "2026-03-02 11:00", segments=segments)
    assert left(bays).left_ml == 160


def test_settings_told_at_the_end_replace_those_told_at_the_begin(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="200")
    begun = bays("case_begin", "2026-03-02 08:00", machine="bay1", segments=(HOUR_OF_10_ML,))
    assert left(bays, "2026-03-02 09:00").left_ml == 190
    twice = {"flow_ml_min": "3185", "dial_percent": "2"}
    end = bays("case_end", "2026-03-02 10:00", case_entry=begun, segments=(twice,))
    assert left(bays).left_ml == 160
    bays.replace(end, "2026-03-02 10:00", "case_end", case_entry=begun)
    assert left(bays).left_ml == 180


def test_a_question_in_the_middle_of_a_case_counts_its_use_so_far(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="200")
    first = {"duration_s": 7200, "flow_ml_min": "3185", "dial_percent": "2"}
    bays.case("2026-03-02 08:00", "2026-03-02 12:00", segments=(first, HOUR_OF_10_ML))
    found = [left(bays, f"2026-03-02 {hour:02}:00").left_ml for hour in (8, 9, 10, 11, 12, 13)]
    assert found == [200, 180, 160, 150, 140, 140]


def test_cases_without_flow_or_dial_are_counted_as_untold(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="200")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    bays.case("2026-03-02 09:00", "2026-03-02 10:00", segments=({"flow_ml_min": "1000"},))
    bays.case("2026-03-02 10:00", "2026-03-02 11:00", segments=({"dial_percent": "2"},))
    bays.case("2026-03-02 11:00", "2026-03-02 12:00", segments=(HOUR_OF_10_ML,))
    assert (left(bays).left_ml, left(bays).untold_cases) == (190, 3)


def test_a_fill_during_a_case_is_charged_the_whole_case(bays: Scribe) -> None:
    bays.case("2026-03-02 08:00", "2026-03-02 10:00", segments=(HOUR_OF_10_ML,))
    fill(bays, "2026-03-02 09:00", level_ml="200")
    assert left(bays).left_ml == 180


def test_the_low_mark_is_reached_at_the_mark_itself(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="45.001")
    bays.case("2026-03-02 08:00", "2026-03-02 10:00", segments=(HOUR_OF_10_ML,))
    assert not left(bays).low
    fill(bays, "2026-03-02 07:30", level_ml="45")
    assert (left(bays).left_ml, left(bays).low) == (25, True)


def test_a_vaporizer_is_never_emptier_than_empty(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="15")
    bays.case("2026-03-02 08:00", "2026-03-02 10:00", segments=(HOUR_OF_10_ML,))
    assert (left(bays).left_ml, left(bays).low) == (0, True)


def test_use_follows_the_vaporizer_to_another_machine(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="200")
    bays("vaporizer_fitting", "2026-03-02 12:00", vaporizer="iso1", machine="bay2")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00", segments=(HOUR_OF_10_ML,))
    bays.case("2026-03-02 13:00", "2026-03-02 15:00", segments=(HOUR_OF_10_ML,))
    bays.case("2026-03-02 13:00", "2026-03-02 14:00", "bay2", segments=(HOUR_OF_10_ML,))
    named = {"vaporizer": "iso1", "segments": (HOUR_OF_10_ML,)}
    bays.case("2026-03-02 16:00", "2026-03-02 17:00", **named)
    assert left(bays).left_ml == 170


def test_every_setting_that_an_entry_may_hold_can_be_worked_out(bays: Scribe) -> None:
    fill(bays, "2026-03-02 07:00", level_ml="1000")
    for hour, (flow, dial) in enumerate([("20000", "20"), ("0.000001", "0"), ("0", "20")]):
        setting = {"flow_ml_min": flow, "dial_percent": dial}
        began, ended = f"2026-03-02 {8 + hour:02}:00", f"2026-03-02 {9 + hour:02}:00"
        bays.case(began, ended, segments=(setting,), weight_g=("10", "200000", "500")[hour])
    assert left(bays).left_ml == 0
    bays("absorbent_change", "2026-03-02 07:00", machine="bay1", mass_g="10000")
    assert bays.due("2026-03-06 12:00", "absorbent", "carbon dioxide").used != Decimal("0")
