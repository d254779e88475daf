"""Each kind of finding of an audit, on its bound and a step beyond it."""

from datetime import date, timedelta

import pytest

from logbook.answers.finding import (
    Audited,
    CasePastAbsorbent,
    CaseVerificationOverdue,
    ChangeLate,
    CheckNotFinished,
    Finding,
)
from tests.answers.diary import DAY, Diary
from tests.ledger.scribe import counted, denver

LEAK = {"item": "leak", "state": "passed", "tests": "leak"}


def entries(found: list[Finding]) -> list[tuple[int, ...]]:
    return [one.entries for one in found]


def test_an_empty_audit_says_what_it_looked_at(diary: Diary) -> None:
    diary.check("2026-03-03 07:10")
    diary.case("2026-03-03 08:00", "2026-03-03 09:00", circuit="non-rebreathing")
    answer = diary.audit()
    assert answer.findings == []
    assert answer.totals == []
    looked_at = answer.looked_at
    assert (looked_at.machines, looked_at.days, looked_at.cases, looked_at.checks) == (2, 1, 1, 1)
    assert (looked_at.entries, looked_at.changes) == (2, 0)


def test_a_case_is_out_of_service_from_the_fault_to_the_second_of_the_return(diary: Diary) -> None:
    fault = diary("fault", "2026-03-03 08:00", unit="iso1", what="tipped", stops=True)
    during = diary.case("2026-03-03 08:00", "2026-03-03 08:30")
    done = diary(
        "service", "2026-03-03 08:40", unit="iso1", item="output verification", outcome="passed"
    )
    diary("return_to_service", "2026-03-03 09:00", unit="iso1", evidence_entry=done)
    diary.case("2026-03-03 09:00", "2026-03-03 09:30")
    found = diary.found(Audited.OUT_OF_SERVICE)
    assert entries(found) == [(during, fault)]
    assert (found[0].machine, found[0].unit, found[0].by) == ("bay1", "iso1", ("KO",))


def test_a_case_needs_a_passed_daily_check_of_that_day_up_to_its_begin(diary: Diary) -> None:
    diary.check("2026-03-02 07:10")
    diary.check("2026-03-03 07:10", checklist="before-case")
    diary.check("2026-03-03 07:20", state="failed")
    without = diary.case("2026-03-03 07:30", "2026-03-03 07:40")
    diary.check("2026-03-03 08:00", recorded="2026-03-03 08:00")
    diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    assert entries(diary.found(Audited.WITHOUT_CHECK)) == [(without,)]
    assert diary.found(Audited.CHECK_MISSED) == []


def test_a_case_that_loads_an_absorbent_without_a_change_on_record_is_told(diary: Diary) -> None:
    before = diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    diary("absorbent_change", "2026-03-03 10:00", machine="bay1")
    diary.case("2026-03-03 10:00", "2026-03-03 11:00")
    diary.case("2026-03-03 08:00", "2026-03-03 09:00", "bay2", circuit="non-rebreathing")
    assert entries(diary.found(Audited.UNKNOWN_ABSORBENT)) == [(before,)]


def test_of_two_checks_before_a_case_the_last_counts(diary: Diary) -> None:
    diary.check("2026-03-03 07:10")
    failed = diary.check("2026-03-03 07:20", state="failed")
    without = diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    (found,) = diary.found(Audited.WITHOUT_CHECK)
    assert (found.entries, found.verdict, found.check) == ((without,), "failed", failed)


def test_a_check_that_was_recorded_after_the_case_began_is_told_and_missed_no_more(
    diary: Diary,
) -> None:
    case = diary.case("2026-03-03 09:00", "2026-03-03 10:00")
    missed = diary.found(Audited.CHECK_MISSED)
    assert entries(missed) == entries(diary.found(Audited.WITHOUT_CHECK)) == [(case,)]
    late = diary.check("2026-03-03 07:10", recorded="2026-03-03 09:01")
    assert entries(diary.found(Audited.CHECKED_AFTER)) == [(case, late)]
    assert diary.found(Audited.CHECK_MISSED) == diary.found(Audited.WITHOUT_CHECK) == []
    diary.check("2026-03-03 07:20", recorded="2026-03-03 09:00")
    assert diary.found(Audited.CHECKED_AFTER) == []


def past(diary: Diary, first: date = DAY, last: date = DAY) -> list[CasePastAbsorbent]:
    found = diary.found(Audited.PAST_ABSORBENT, first, last)
    return [one for one in found if isinstance(one, CasePastAbsorbent)]


def test_eight_hours_are_within_the_limit_and_a_minute_more_is_past_it(diary: Diary) -> None:
    change = diary("absorbent_change", "2026-03-02 07:00", machine="bay1")
    diary.case("2026-03-02 08:00", "2026-03-02 12:00")
    diary.case("2026-03-03 07:00", "2026-03-03 10:00")
    diary.case("2026-03-03 11:00", "2026-03-03 12:00")
    assert past(diary, date(2026, 3, 2)) == []
    crossing = diary.case("2026-03-03 12:00", "2026-03-03 12:01")
    after = diary.case("2026-03-03 13:00", "2026-03-03 13:01")
    free = diary.case("2026-03-03 14:00", "2026-03-03 15:00", circuit="non-rebreathing")
    found = past(diary)
    assert [(one.entries, one.crossed) for one in found] == [
        ((crossing, change), True),
        ((after, change), False),
    ]
    assert found[0].used_s == 8 * 3600 + 60
    assert free not in {one.entries[0] for one in found}


def test_a_charge_that_is_changed_during_a_case_counts_what_ran_after_it(diary: Diary) -> None:
    diary("absorbent_change", "2026-03-03 06:00", machine="bay1")
    diary("absorbent_change", "2026-03-03 10:00", machine="bay1")
    diary.case("2026-03-03 08:00", "2026-03-03 12:00")
    diary.case("2026-03-03 12:30", "2026-03-03 18:30")
    assert past(diary) == []
    last = diary.case("2026-03-03 19:00", "2026-03-03 19:01")
    assert [(one.entries[0], one.used_s) for one in past(diary)] == [(last, 8 * 3600 + 60)]


def test_a_charge_counts_from_its_change_wherever_the_span_begins(diary: Diary) -> None:
    diary("absorbent_change", "2026-02-23 07:00", machine="bay1")
    diary.case("2026-02-24 08:00", "2026-02-24 15:00")
    diary.case("2026-03-02 23:30", "2026-03-03 00:30")
    last = diary.case("2026-03-03 08:00", "2026-03-03 08:30")
    assert [(one.entries[0], one.used_s) for one in past(diary)] == [(last, 8.5 * 3600)]
    assert [one.entries[0] for one in past(diary, date(2026, 2, 23))] == [last]


def test_the_limit_that_was_in_force_when_the_case_began_judges_it(diary: Diary) -> None:
    diary("absorbent_change", "2026-03-02 07:00", machine="bay1")
    diary.case("2026-03-02 08:00", "2026-03-02 15:00")
    told = {"limit": "absorbent-hours", "value": "6", "machine": "bay1", "reason": "policy"}
    diary("rule_change", "2026-03-02 20:00", **told)
    later = diary.case("2026-03-03 08:00", "2026-03-03 08:10")
    assert [one.entries[0] for one in past(diary, date(2026, 3, 2))] == [later]


def test_the_fifteenth_day_is_past_the_days_of_a_charge(diary: Diary) -> None:
    diary("absorbent_change", "2026-02-16 07:00", machine="bay1")
    diary.case("2026-03-02 08:00", "2026-03-02 09:00")
    old = diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    [found] = past(diary, date(2026, 3, 2))
    assert (found.entries[0], found.days, found.used_s, found.crossed) == (old, 15, None, False)


def test_a_change_is_late_past_hours_or_days_and_empty_without_either(diary: Diary) -> None:
    first = diary("absorbent_change", "2026-02-16 07:00", machine="bay1")
    diary.case("2026-02-17 08:00", "2026-02-17 12:00")
    late = diary("absorbent_change", "2026-03-03 07:00", machine="bay1", by="KO")
    [found] = diary.found(Audited.CHANGE_LATE)
    assert isinstance(found, ChangeLate)
    assert (found.entries, found.used_s, found.days) == ((late, first), 4 * 3600, 15)
    again = diary("absorbent_change", "2026-03-03 07:10", machine="bay1")
    assert entries(diary.found(Audited.CHANGE_WITHOUT_USE)) == [(again, late)]
    diary("absorbent_change", "2026-03-17 07:10", machine="bay1")
    diary.now = "2026-03-20 12:00"
    # Two weeks ran out, so that an unused charge had to go.
    assert diary.found(Audited.CHANGE_WITHOUT_USE, date(2026, 3, 17), date(2026, 3, 17)) == []


def overdue(diary: Diary) -> list[CaseVerificationOverdue]:
    found = diary.found(Audited.OVERDUE_VERIFICATION, date(2026, 3, 1), date(2026, 3, 9))
    return [one for one in found if isinstance(one, CaseVerificationOverdue)]


def test_a_verification_is_overdue_on_the_day_after_it_was_due(diary: Diary) -> None:
    plan = {"unit": "iso1", "item": "output verification", "every": "P12M"}
    diary("service_plan", "2026-01-02 08:00", **plan, last="2025-03-02")
    diary.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert overdue(diary) == []
    case = diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    assert [(one.entries, one.unit, one.due_on) for one in overdue(diary)] == [
        ((case,), "iso1", date(2026, 3, 2))
    ]
    told = {"unit": "iso1", "item": "output verification"}
    diary("service", "2026-03-03 10:00", **told, outcome="passed")
    diary.case("2026-03-04 08:00", "2026-03-04 09:00")
    assert len(overdue(diary)) == 1


def test_a_verification_is_overdue_once_its_run_hours_are_passed(diary: Diary) -> None:
    plan = {"unit": "iso1", "item": "output verification", "run_hours": "3"}
    diary("service_plan", "2026-01-02 08:00", **plan, last="2026-01-01")
    diary.case("2026-02-20 08:00", "2026-02-20 10:00")
    diary.case("2026-03-02 08:00", "2026-03-02 09:00")
    at_limit = diary.case("2026-03-02 10:00", "2026-03-02 10:01")
    beyond = diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    found = overdue(diary)
    assert at_limit not in {one.entries[0] for one in found}
    assert [(one.entries, one.used_s) for one in found] == [((beyond,), 3 * 3600 + 60)]


def test_a_machine_that_was_opened_needs_a_leak_test_before_its_next_case(diary: Diary) -> None:
    diary.check("2026-03-03 07:00", answers=(LEAK,))
    diary.case("2026-03-03 07:10", "2026-03-03 07:20")
    change = diary("absorbent_change", "2026-03-03 07:30", machine="bay1")
    case = diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    diary.check("2026-03-03 09:30", answers=(LEAK,))
    diary.case("2026-03-03 10:00", "2026-03-03 11:00")
    assert entries(diary.found(Audited.WITHOUT_LEAK_TEST)) == [(case, change)]
    diary("vaporizer_fitting", "2026-03-04 07:00", vaporizer="iso1", machine="bay2")
    fitted = diary.case("2026-03-04 08:00", "2026-03-04 09:00", machine="bay2")
    day = date(2026, 3, 4)
    assert entries(diary.found(Audited.WITHOUT_LEAK_TEST, day, day)) == [(fitted,)]


def test_a_check_that_nobody_brought_to_an_end_that_day_is_told(diary: Diary) -> None:
    half = {"item": "bag", "state": "not done", "reason": "no time"}
    diary.check("2026-03-03 07:00", answers=(half,))
    diary.check("2026-03-03 07:20")
    left = diary.check("2026-03-03 07:40", answers=(half,))
    diary.check("2026-03-04 07:00")
    found = diary.found(Audited.NOT_FINISHED)
    assert entries(found) == [(left,)]
    assert isinstance(found[0], CheckNotFinished)
    assert not found[0].left


def test_a_check_is_walked_during_a_case_from_its_first_answer_on(diary: Diary) -> None:
    case = diary.case("2026-03-03 07:20", "2026-03-03 07:40")
    diary.check("2026-03-03 07:20")
    diary.check("2026-03-03 07:50", begun=denver("2026-03-03 07:40"))
    during = diary.check("2026-03-03 07:45", begun=denver("2026-03-03 07:05"))
    assert entries(diary.found(Audited.CHECK_DURING_CASE)) == [(during, case)]


@pytest.mark.parametrize(
    ("held_s", "timed", "hasty"), [(12, None, False), (13, None, True), (13, True, False)]
)
def test_a_typed_hold_is_no_longer_than_the_time_that_was_there(
    diary: Diary, held_s: int, timed: bool | None, hasty: bool
) -> None:
    at = denver("2026-03-03 07:00")
    bag = {"item": "bag", "state": "passed", "at": at}
    hold = {"item": "leak", "state": "passed", "at": at + timedelta(seconds=12)}
    check = diary.check(
        "2026-03-03 07:01", answers=(bag, hold | {"held_s": held_s, "timed": timed})
    )
    assert entries(diary.found(Audited.HOLD_TOO_SHORT)) == ([(check,)] if hasty else [])


def test_what_was_recorded_late_or_corrected_is_told_once(diary: Diary) -> None:
    late = diary("note", "2026-03-03 08:00", recorded="2026-03-04 12:00", text="hoses ordered")
    case = diary.case("2026-03-03 08:00", "2026-03-03 09:00", recorded="2026-03-05 09:00")
    fix = diary(
        "correction", "2026-03-06 08:00", corrects=case, withdrawn=True, reason="wrong machine"
    )
    assert entries(diary.found(Audited.RECORDED_LATE)) == [(late,)]
    [found] = diary.found(Audited.CORRECTED)
    assert (found.entries, found.machine) == ((case, fix), "bay1")


def test_a_clock_set_back_and_a_copy_brought_back_are_told(diary: Diary) -> None:
    diary("note", "2026-03-03 08:00", recorded="2026-03-03 10:00", text="one")
    second = diary("note", "2026-03-03 08:10", recorded="2026-03-03 09:00", text="two")
    assert entries(diary.found(Audited.CLOCK_BACK)) == [(second, second - 1)]
    told = {"from_entries": 3, "from_head": "a" * 64, "reason": "disk failed"}
    back = diary("restore", "2026-03-03 12:00", **told)
    assert entries(diary.found(Audited.RESTORED)) == [(back,)]
    # It concerns every machine, so that asking for one of them does not hide it.
    assert [one.entries for one in diary.audit(machine="bay2").findings] == [(back,)]


def test_a_return_whose_evidence_was_withdrawn_shows_nothing(diary: Diary) -> None:
    fault = diary("fault", "2026-03-03 08:00", unit="bay1", what="leak", stops=True)
    done = diary.check("2026-03-03 09:00")
    back = diary("return_to_service", "2026-03-03 09:10", unit="bay1", evidence_entry=done)
    assert diary.found(Audited.WITHOUT_EVIDENCE) == []
    diary("correction", "2026-03-04 08:00", corrects=done, withdrawn=True, reason="not walked")
    assert entries(diary.found(Audited.WITHOUT_EVIDENCE)) == [(back, done, fault)]


def test_an_audit_of_one_machine_tells_of_it_alone_and_counts_it_alone(diary: Diary) -> None:
    diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    theirs = diary.case("2026-03-03 08:00", "2026-03-03 09:00", machine="bay2")
    answer = diary.audit(machine="bay2")
    assert {one.entries for one in answer.findings} == {(theirs,)}
    assert (answer.looked_at.machines, answer.looked_at.cases, answer.looked_at.entries) == (
        1,
        1,
        1,
    )


def test_the_worst_comes_first(diary: Diary) -> None:
    diary("absorbent_change", "2026-03-03 07:00", machine="bay1")
    diary("absorbent_change", "2026-03-03 07:10", machine="bay1")
    diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    order = list(Audited)
    ranks = [order.index(one.finding) for one in diary.audit().findings]
    assert ranks == sorted(ranks)
    assert [one.finding for one in diary.audit().totals] == [
        "case without check", "case without leak test", "check missed", "change without use"
    ]  # fmt: skip


def test_days_before_the_logbook_began_are_not_accused(diary: Diary) -> None:
    clinic = {"name": "Alder Creek", "timezone": "America/Denver", "since": "2026-03-03"}
    diary("clinic", "2026-03-03 06:00", **clinic, reason="begun", by="")
    diary.case("2026-03-02 08:00", "2026-03-02 09:00")
    case = diary.case("2026-03-03 08:00", "2026-03-03 09:00")
    answer = diary.audit(date(2026, 3, 1))
    assert {one.entries for one in answer.findings} == {(case,)}
    assert (answer.since, answer.looked_at.days, answer.looked_at.cases) == (DAY, 1, 1)
    before = diary.audit(date(2026, 3, 1), date(2026, 3, 2))
    assert (before.findings, before.looked_at.days, before.looked_at.cases) == ([], 0, 0)


def test_an_audit_asks_no_more_statements_of_more_cases(diary: Diary) -> None:
    def sent() -> int:
        with counted(diary.book.connection) as statements:
            diary.audit()
        return len(statements)

    diary.case("2026-03-03 08:00", "2026-03-03 08:10")
    few = sent()
    for minute in range(10, 50, 10):
        diary.case(f"2026-03-03 09:{minute}", f"2026-03-03 09:{minute + 5}", machine="bay2")
    assert sent() == few


def test_the_last_second_of_the_last_day_is_looked_at_and_the_next_is_not(diary: Diary) -> None:
    diary("note", "2026-03-03 23:59:59", text="late")
    diary("note", "2026-03-04 00:00:00", text="early")
    assert diary.audit().looked_at.entries == 1
    assert diary.audit(DAY, date(2026, 3, 4)).looked_at.entries == 2
