"""What a pressure test decides by the pressure that was read, by bounds worked out by hand."""

from decimal import Decimal

import pytest

from logbook.checklists import Answer, Judged, builtin, judge
from logbook.errors import InputError
from logbook.limits import LIMITS

LEAK = next(one for one in builtin("daily").items if one.tests == "leak" and one.or_hold)
VALUES = {name: limit.value for name, limit in LIMITS.items()}


def flow(ml_min: str, read: str | None) -> Judged:
    answer = Answer(value=ml_min, unit="mL/min", pressure_cmh2o=read)
    return judge(LEAK, answer, VALUES)


def fall(seconds: int, begin: str, end: str | None, compliance: str | None = None) -> Judged:
    answer = Answer(held_s=seconds, pressure_cmh2o=begin, end_pressure_cmh2o=end)
    return judge(LEAK, answer, VALUES, Decimal(compliance) if compliance else None)


@pytest.mark.parametrize(
    ("ml_min", "read", "state"),
    [
        ("200", "30", "passed"),
        ("200.1", "30", "failed"),
        # At 20 cmH2O a slit lets 200 x 20/30 = 133.3 through, a hole 200 x root(20/30) = 163.3.
        ("133.3", "20", "passed"),
        ("133.4", "20", "not done"),
        ("163.3", "20", "not done"),
        ("163.4", "20", "failed"),
        # At 40 cmH2O a hole lets 230.9 through, a slit 266.7.
        ("230.9", "40", "passed"),
        ("231", "40", "not done"),
        ("266.7", "40", "not done"),
        ("266.8", "40", "failed"),
        # At less than half of the test's pressure nothing passes, and too much still fails.
        ("1", "15", "passed"),
        ("1", "14.9", "not done"),
        ("200", "14.9", "failed"),
    ],
)
def test_a_flow_at_another_pressure_is_judged_only_where_every_leak_decides_it(
    ml_min: str, read: str, state: str
) -> None:
    assert flow(ml_min, read).state == state


def test_what_cannot_be_judged_says_what_would_and_is_as_good_as_not_done() -> None:
    found = flow("150", "20")
    assert found.sentence == (
        "150 mL/min at 20 cmH2O cannot be judged by 200 at 30 cmH2O: there at most 133.3 passes, "
        "above 163.3 fails; test at 30 cmH2O"
    )
    assert (found.reason, found.limit_name, found.stops) == (found.sentence, None, False)


def test_a_judged_flow_tells_the_bound_at_the_pressure_that_was_read() -> None:
    found = flow("170", "20")
    assert found.sentence == "170 mL/min at 20 cmH2O, limit 163.3 there (200 at 30 cmH2O)"
    assert (found.limit_name, found.high, found.pressure_cmh2o) == (
        "leak-flow", Decimal("163.3"), Decimal(20)
    )  # fmt: skip
    assert found.stops
    assert flow("150", "30").sentence == "150 mL/min at 30 cmH2O, limit 200"


def test_without_a_pressure_the_limit_judges_and_the_words_say_that_none_was_told() -> None:
    found = flow("150", None)
    assert (found.state, found.pressure_cmh2o) == ("passed", Decimal(30))
    assert found.sentence == "150 mL/min, limit 200 at 30 cmH2O, pressure not told"


@pytest.mark.parametrize(
    ("seconds", "begin", "end", "state"),
    [
        (10, "30", "30", "passed"),
        (10, "35", "34.9", "not done"),
        (9, "30", "30", "not done"),  # It had not fallen when the clock was stopped.
        (9, "30", None, "failed"),  # It held nine seconds, and no longer.
        (10, "30", None, "passed"),
        (10, "29", "29", "not done"),
        (9, "31", None, "not done"),
        (10, "30", "29", "failed"),
        (10, "30", "29.1", "not done"),
        (5, "30", "29", "failed"),
        # In a minute 6 cmH2O are one in ten seconds; 5.9 are less than an eye sees in ten.
        (60, "30", "24", "failed"),
        (60, "30", "24.1", "not done"),
        (60, "31", "20", "not done"),
        (0, "30", "29", "failed"),
    ],
)
def test_without_the_compliance_a_fall_is_judged_by_whether_ten_seconds_would_show_it(
    seconds: int, begin: str, end: str | None, state: str
) -> None:
    assert fall(seconds, begin, end).state == state


def test_a_time_without_a_fall_says_what_it_can_show() -> None:
    assert fall(10, "30", "30").sentence == (
        "held 10 s at 30 cmH2O, at least 10; it shows a large leak only"
    )
    # 100 mL/cmH2O: a leak of 600 mL/min lowers the pressure by one step of the gauge in 10 s.
    assert fall(10, "30", "30", "100").sentence == (
        "held 10 s at 30 cmH2O, at least 10; a leak below about 600 mL/min does not show"
    )


@pytest.mark.parametrize(
    ("seconds", "begin", "end", "compliance", "state", "ml_min"),
    [
        # 3 mL/cmH2O, 11 cmH2O in 10 s: 198 mL/min, and 216 where the gauge hides one step.
        (10, "30", "19", "3", "not done", None),
        (10, "30", "18", "3", "failed", "216"),  # Above 200 whatever the gauge hides.
        # 100 mL/cmH2O, 1 cmH2O in a minute is 100 mL/min, 200 with a step; at 29 passes 193.3.
        (60, "30", "29", "100", "not done", None),
        (65, "30", "29", "100", "passed", "184.7"),
        (30, "31", "31", "100", "passed", "200"),
        (10, "30", "29", "100", "failed", "600"),
        # Where nothing fell, and the time is too short to tell the flow, the time judges.
        (10, "30", "30", "100", "passed", None),
    ],
)
def test_with_the_compliance_a_fall_is_told_and_judged_in_ml_min(
    seconds: int, begin: str, end: str, compliance: str, state: str, ml_min: str | None
) -> None:
    found = fall(seconds, begin, end, compliance)
    assert (found.state, found.leak_ml_min) == (state, None if ml_min is None else Decimal(ml_min))
    if ml_min is not None:
        assert f"{ml_min} mL/min, limit " in found.sentence


def test_a_person_who_saw_it_fail_is_believed_where_nothing_can_be_judged() -> None:
    answer = Answer(state="failed", value="150", unit="mL/min", pressure_cmh2o="20", reason="hiss")
    found = judge(LEAK, answer, VALUES)
    assert (found.state, found.stops) == ("failed", True)
    assert found.sentence.endswith("test at 30 cmH2O: hiss")


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (Answer(held_s=10, pressure_cmh2o="29", end_pressure_cmh2o="30"), "is above 29 at the"),
        (Answer(held_s=10, end_pressure_cmh2o="30"), "tell the one at its begin, too"),
        (Answer(value="9", unit="mL/min", pressure_cmh2o="30", end_pressure_cmh2o="9"), "begin"),
        (Answer(state="failed", pressure_cmh2o="30"), "leave the pressure out"),
        (Answer(value="9", unit="mL/min", pressure_cmh2o="100.1"), "give above 0 to 100 cmH2O"),
        (Answer(value="9", unit="mL/min", pressure_cmh2o="0"), "give above 0 to 100 cmH2O"),
        (Answer(value="9", unit="mL/min", pressure_cmh2o="-3"), "give above 0 to 100 cmH2O"),
    ],
)
def test_pressures_that_no_test_has_are_refused(answer: Answer, words: str) -> None:
    with pytest.raises(InputError, match=words):
        judge(LEAK, answer, VALUES)
