"""How a unit did over time: hours by charge, leaks by check, use and outputs of a vaporizer."""

from decimal import Decimal

from logbook.answers.moment import moment_at
from logbook.answers.over_time import CHARGES, LEAKS, OverTime, over_time
from logbook.recording.opening import Book
from tests.answers.diary import Diary
from tests.ledger.scribe import denver


def seen(book: Book, unit: str = "bay1", at: str = "2026-03-10 12:00") -> OverTime:
    return over_time(book.connection, moment_at(denver(at), book.zone), unit)


def leak(value: str = "80", state: str = "passed", **more: object) -> dict[str, object]:
    told = {"item": "breathing-system-leak", "value": value, "unit": "mL/min"}
    return told | {"state": state, "tests": "leak"} | more


def test_each_charge_has_the_hours_of_the_cases_that_ran_on_it(diary: Diary, book: Book) -> None:
    first = diary("absorbent_change", "2026-03-02 07:00", machine="bay1")
    diary.case("2026-03-02 08:00", "2026-03-02 10:30")
    diary.case("2026-03-02 11:00", "2026-03-02 12:00", circuit="non-rebreathing")
    second = diary("absorbent_change", "2026-03-03 07:00", machine="bay1")
    diary.case("2026-03-03 08:00", "2026-03-03 09:15")
    diary.case("2026-03-03 08:00", "2026-03-03 09:15", machine="bay2")
    told = seen(book)
    assert [(one.entry, one.used_s) for one in told.charges] == [(first, 9000), (second, 4500)]
    assert [one.limit_h for one in told.charges] == [Decimal(8), Decimal(8)]
    assert told.charges[0].ended_at == told.charges[1].from_at
    assert told.charges[1].ended_at is None


def test_a_charge_is_held_against_the_limit_that_was_in_force_at_its_end(
    diary: Diary, book: Book
) -> None:
    diary("absorbent_change", "2026-03-02 07:00", machine="bay1")
    diary("absorbent_change", "2026-03-03 07:00", machine="bay1")
    rule = {"limit": "absorbent-hours", "reason": "smaller canister"}
    diary("rule_change", "2026-03-04 07:00", value="6", machine="bay1", **rule)
    assert [one.limit_h for one in seen(book).charges] == [Decimal(8), Decimal(6)]
    diary("rule_change", "2026-03-05 07:00", value="0", machine="bay1", **rule)
    assert [one.limit_h for one in seen(book).charges] == [Decimal(8), None]


def test_the_last_charges_are_shown(diary: Diary, book: Book) -> None:
    entries = [
        diary("absorbent_change", f"2026-02-{day:02} 07:00", machine="bay1")
        for day in range(1, CHARGES + 3)
    ]
    assert [one.entry for one in seen(book).charges] == entries[-CHARGES:]
    assert len(seen(book, at="2026-02-05 12:00").charges) == 5


def test_leak_tests_are_shown_in_the_order_of_their_checks_passed_or_failed(
    diary: Diary, book: Book
) -> None:
    diary.check("2026-03-02 07:00", answers=(leak("60"),))
    diary.check("2026-03-03 07:00", answers=(leak("300", "failed"),))
    diary.check("2026-03-03 07:30", answers=({"item": "bag", "state": "passed"},))
    held = {"item": "breathing-system-leak", "state": "passed", "held_s": 12, "tests": "leak"}
    diary.check("2026-03-04 07:00", answers=(held,))
    fall = held | {"held_s": 30, "pressure_cmh2o": "30", "value": "20", "unit": "cmH2O"}
    diary.check("2026-03-04 08:00", answers=(fall | {"leak_ml_min": "60"},))
    not_done = {"item": "breathing-system-leak", "state": "not done", "reason": "no time"}
    diary.check("2026-03-05 07:00", answers=(not_done,))
    told = [(one.flow_ml_min, one.held_s, one.state) for one in seen(book).leaks]
    assert told == [
        (Decimal(60), None, "passed"),
        (Decimal(300), None, "failed"),
        (None, 12, "passed"),
        (Decimal(60), 30, "passed"),
    ]
    assert {one.limit_ml_min for one in seen(book).leaks} == {Decimal(200)}


def test_no_more_leak_tests_are_shown_than_fit(diary: Diary, book: Book) -> None:
    for number in range(LEAKS + 5):
        day = f"2026-03-{1 + number // 5:02} {7 + number % 5:02}:00"
        diary.check(day, answers=(leak(str(number)),))
    flows = [one.flow_ml_min for one in seen(book).leaks]
    assert flows == [Decimal(number) for number in range(5, LEAKS + 5)]


def test_a_vaporizer_has_its_use_and_its_outputs(diary: Diary, book: Book) -> None:
    diary("agent_level", "2026-03-02 07:00", vaporizer="iso1", level_ml="200")
    setting = {"flow_ml_min": "1000", "dial_percent": "2"}
    diary.case("2026-03-02 08:00", "2026-03-02 09:00", segments=[setting])
    diary("agent_level", "2026-03-02 10:00", vaporizer="iso1", level_ml="190")
    told = seen(book, "iso1")
    assert [one.seen for one in told.agent] == [Decimal(10)]
    assert told.charges == []
    assert told.leaks == []
    assert told.outputs == []


def test_what_was_never_measured_is_empty(book: Book, diary: Diary) -> None:
    assert diary.book is book
    assert seen(book, "bay2") == OverTime()
