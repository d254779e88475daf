"""What stood against a machine when a case began is told with the case, for ever."""

from typing import Any

import pytest

from logbook.answers.case_flags import accuses
from logbook.answers.cases import CaseLine, case_list
from logbook.answers.moment import moment_at
from logbook.answers.ready import ready as readiness
from logbook.answers.reason import LeakTestOwed
from logbook.sheets.flags import flag_line
from tests.answers.diary import Diary
from tests.conftest import ZONE
from tests.ledger.scribe import counted, denver

LEAK = {"item": "leak", "state": "passed", "tests": "leak"}


def cases(diary: Diary, at: str = "2026-03-06 12:00", machine: str | None = None) -> list[CaseLine]:
    return case_list(diary.book.connection, moment_at(denver(at), ZONE), 0, machine)


def flags(diary: Diary, case: int = 0) -> list[str]:
    return [flag_line(one, ZONE) for one in cases(diary)[case].flags]


@pytest.fixture
def ready(diary: Diary) -> Diary:
    """Everything done that a case needs."""
    diary("absorbent_change", "2026-03-02 07:00", machine="bay1")
    diary.check("2026-03-02 07:30", answers=(LEAK,))
    return diary


def test_a_prepared_machine_has_no_flag(ready: Diary) -> None:
    ready.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(ready) == []


def test_a_case_without_a_check_that_day_is_flagged(ready: Diary) -> None:
    ready.case("2026-03-03 08:00", "2026-03-03 09:00")
    ready.check("2026-03-03 08:01")
    assert flags(ready) == ["no daily check: none of bay1 that day before the case"]


@pytest.mark.parametrize(
    ("last", "told"),
    [
        ({"state": "not done", "reason": "called away"}, "not finished"),
        ({"state": "failed"}, "failed"),
    ],
)
def test_a_case_after_a_failed_or_unfinished_check_is_flagged(
    ready: Diary, last: dict[str, Any], told: str
) -> None:
    seq = ready.check("2026-03-02 07:40", **last)
    ready.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(ready) == [f"daily check {told}: bay1, before the case (entry {seq})"]


def test_a_check_entered_days_later_is_told_as_late_and_wipes_nothing(ready: Diary) -> None:
    ready.case("2026-03-03 09:00", "2026-03-03 09:50")
    seq = ready.check("2026-03-03 07:10", recorded="2026-03-04 07:13")
    assert flags(ready) == [f"daily check recorded only after the case: 22 h late (entry {seq})"]
    assert [accuses(one) for one in cases(ready)[0].flags] == [True]


def test_a_sheet_of_paper_that_is_typed_in_the_evening_accuses_nobody(ready: Diary) -> None:
    ready.case("2026-03-03 09:00", "2026-03-03 09:50", recorded="2026-03-03 23:58")
    seq = ready.check("2026-03-03 07:10", recorded="2026-03-03 23:59")
    told = f"daily check written down after the case: at 23:59 that day (entry {seq})"
    assert flags(ready) == [told]
    assert [accuses(one) for one in cases(ready)[0].flags] == [False]
    # A minute later it is another day.
    ready.case("2026-03-04 09:00", "2026-03-04 09:50")
    ready.check("2026-03-04 07:10", recorded="2026-03-05 00:00")
    assert [accuses(one) for one in cases(ready)[1].flags] == [True]


def test_a_case_on_what_is_out_of_service_is_flagged(ready: Diary) -> None:
    leak = ready("fault", "2026-03-02 08:00", unit="bay1", what="leak", stops=True)
    tipped = ready("fault", "2026-03-02 07:50", unit="iso1", what="tipped")
    ready.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(ready) == [
        f"out of service: bay1 since 2026-03-02 08:00, leak (entry {leak})",
        f"out of service: iso1 since 2026-03-02 07:50, tipped (entry {tipped})",
    ]


def test_a_vaporizer_that_the_case_names_is_flagged_wherever_it_stood(ready: Diary) -> None:
    ready("vaporizer", "2026-03-01 08:00", vaporizer="iso2", agent="isoflurane")
    seq = ready("fault", "2026-03-02 07:50", unit="iso2", what="dropped")
    ready.case("2026-03-02 08:00", "2026-03-02 09:00")
    ready.case("2026-03-02 09:00", "2026-03-02 10:00", vaporizer="iso2")
    assert flags(ready) == []
    dropped = f"out of service: iso2 since 2026-03-02 07:50, dropped (entry {seq})"
    assert flags(ready, 1) == [dropped]


def test_the_case_that_took_the_absorbent_past_its_limit_is_flagged_and_those_after_it(
    ready: Diary,
) -> None:
    ready.case("2026-03-02 08:00", "2026-03-02 16:00")
    ready.case("2026-03-02 16:00", "2026-03-02 16:30")
    ready.check("2026-03-03 07:00")
    ready.case("2026-03-03 08:00", "2026-03-03 09:00", circuit="non-rebreathing")
    ready.case("2026-03-03 09:00", "2026-03-03 09:06")
    assert flags(ready) == ["ran long: bay1, 8 h, more than 6 h: its end may be forgotten"]
    assert flags(ready, 2) == []
    past = "absorbent past its limit: bay1, "
    assert flags(ready, 1) == [
        f"{past}8.5 of 8 h in use at the end of this case, which took it there"
    ]
    assert flags(ready, 3) == [f"{past}8.6 of 8 h in use"]


def test_a_case_that_only_now_begins_on_used_up_absorbent_is_flagged(ready: Diary) -> None:
    ready.case("2026-03-02 08:00", "2026-03-02 15:59")
    ready.case("2026-03-02 15:59", "2026-03-02 16:00")
    ready("case_begin", "2026-03-02 16:00", machine="bay1", circuit="adult rebreathing")
    begun = cases(ready, "2026-03-02 16:00")
    assert [len(one.flags) for one in begun] == [1, 0, 1]  # The first ran long.


def test_absorbent_is_past_its_days_the_day_after_the_last(ready: Diary) -> None:
    for day in (16, 17):
        ready.check(f"2026-03-{day} 07:00")
        ready.case(f"2026-03-{day} 08:00", f"2026-03-{day} 09:00")
    last, after = cases(ready, "2026-03-18 12:00")
    assert last.flags == []
    told = "absorbent past its limit: bay1, 15 of 14 days since the change"
    assert [flag_line(one, ZONE) for one in after.flags] == [told]


def test_a_case_past_the_date_of_a_verification_is_flagged(ready: Diary) -> None:
    plan = {"unit": "iso1", "item": "output verification", "every": "P12M"}
    ready("service_plan", "2026-03-01 08:00", last="2025-03-01", **plan)
    ready.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(ready) == ["output verification overdue: iso1, due on 2026-03-01"]


def test_an_absorbent_without_a_record_is_flagged_where_the_circuit_uses_it(diary: Diary) -> None:
    diary.check("2026-03-02 07:30")
    diary.case("2026-03-02 08:00", "2026-03-02 09:00")
    diary.case("2026-03-02 09:00", "2026-03-02 10:00", circuit="non-rebreathing")
    told = "absorbent of unknown age: no change on bay1 is recorded before the case"
    assert flags(diary) == [told]
    assert flags(diary, 1) == []


def test_a_machine_that_was_opened_and_not_tested_for_leaks_is_flagged(ready: Diary) -> None:
    ready("absorbent_change", "2026-03-02 07:40", machine="bay1")
    ready.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(ready) == [
        "no leak test: none passed on bay1 since the absorbent change at 2026-03-02 07:40"
    ]


@pytest.mark.parametrize("tested", [None, "2026-03-02 07:30", "2026-03-02 08:00"])
@pytest.mark.parametrize(
    ("kind", "machine"),
    [("absorbent_change", "bay1"), ("vaporizer_fitting", "bay2"), ("vaporizer_removal", "bay1")],
)
def test_ready_and_the_flag_of_a_case_ask_for_a_leak_test_by_one_rule(
    diary: Diary, kind: str, machine: str, tested: str | None
) -> None:
    told = {
        "absorbent_change": {"machine": "bay1"},
        "vaporizer_fitting": {"vaporizer": "iso1", "machine": "bay2"},
        "vaporizer_removal": {"vaporizer": "iso1"},
    }
    if tested:
        diary.check(tested, machine, answers=(LEAK,))
    diary(kind, "2026-03-02 07:40", **told[kind])
    diary.now = "2026-03-02 09:00"
    moment = moment_at(denver(diary.now), diary.book.zone)
    owed = [
        one
        for one in readiness(diary.book.connection, moment, machine).reasons
        if isinstance(one, LeakTestOwed)
    ]
    diary.case("2026-03-02 09:00", "2026-03-02 09:30", machine)
    told_of_case = any("no leak test" in one for one in flags(diary))
    assert bool(owed) == told_of_case == (tested != "2026-03-02 08:00")


def test_a_case_from_before_the_logbook_is_accused_of_nothing(diary: Diary) -> None:
    diary.case("2025-12-31 08:00", "2025-12-31 09:00")
    diary.case("2026-01-01 08:00", "2026-01-01 09:00")
    before, first = cases(diary)
    assert before.flags == []
    assert len(first.flags) == 2


def test_a_case_is_told_as_it_stands_after_its_corrections(ready: Diary) -> None:
    seq = ready.case("2026-03-02 08:00", "2026-03-02 09:00", species="cat")
    segments = ({"flow_ml_min": "900"},)
    ready("case_begin", "2026-03-02 10:00", machine="bay1", segments=segments)
    body = {
        "machine": "bay2", "ended_at": "2026-03-02T17:00:00Z", "species": "dog",
        "circuit": "unknown",
    }  # fmt: skip
    fix = ready(
        "correction", "2026-03-03 08:00", corrects=seq, withdrawn=False, reason="slip", body=body,
        happened_at="2026-03-02T15:00:00Z",
    )  # fmt: skip
    first, second = cases(ready)
    assert (first.entry, first.machine, first.species, first.ran_s) == (seq, "bay2", "dog", 7200)
    assert (first.corrected_by, first.by, first.vaporizers) == (fix, "KO", [])
    assert (second.ended_at, second.ran_s, second.vaporizers) == (None, None, ["iso1"])
    assert [setting.flow_ml_min for setting in second.settings] == [900]
    assert [line.entry for line in cases(ready, machine="bay2")] == [seq]


def test_a_list_of_many_cases_asks_as_many_statements_as_one_of_few(ready: Diary) -> None:
    ready.case("2026-03-02 08:00", "2026-03-02 09:00")
    with counted(ready.book.connection) as few:
        cases(ready)
    for hour in range(9, 19):
        ready.case(f"2026-03-02 {hour:02}:00", f"2026-03-02 {hour:02}:50")
    for number in range(3, 12):
        ready("machine", "2026-03-01 08:00", machine=f"bay{number}")
        ready.case("2026-03-02 08:00", "2026-03-02 09:00", machine=f"bay{number}")
    with counted(ready.book.connection) as many:
        cases(ready)
    assert len(many) == len(few)
    assert len(few) <= 25
