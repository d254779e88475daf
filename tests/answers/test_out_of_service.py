"""What takes a unit out of service, and the evidence that alone brings it back."""

import pytest

from logbook.answers.service_state import open_faults
from tests.ledger.scribe import Scribe

NEVER = "2026-12-31 12:00"


def stopped(tell: Scribe, at: str = NEVER, unit: str = "iso1") -> list[str]:
    found = open_faults(tell.book.connection, unit, tell.moment(at).at_s)
    return [fault.what for fault in found]


def fault(tell: Scribe, at: str, what: str = "tipped", unit: str = "iso1", **more: bool) -> int:
    return tell("fault", at, unit=unit, what=what, **more)


def verified(tell: Scribe, at: str, outcome: str = "passed") -> int:
    return tell("service", at, unit="iso1", item="output verification", outcome=outcome)


def back(tell: Scribe, at: str, evidence: int, unit: str = "iso1") -> int:
    return tell("return_to_service", at, unit=unit, evidence_entry=evidence)


@pytest.mark.parametrize("what", ["tipped", "dropped", "overfilled"])
def test_what_can_change_the_output_unseen_stops_a_vaporizer_whoever_says_otherwise(
    bays: Scribe, what: str
) -> None:
    fault(bays, "2026-03-02 08:00", what, stops=False)
    assert stopped(bays, "2026-03-02 07:59") == []
    assert stopped(bays, "2026-03-02 08:00") == [what]
    assert stopped(bays, unit="bay1") == []


def test_a_small_fault_is_noted_and_stops_nothing_unless_told(bays: Scribe) -> None:
    fault(bays, "2026-03-02 08:00", "stuck")
    assert stopped(bays) == []
    fault(bays, "2026-03-02 09:00", "leak", stops=True)
    assert stopped(bays) == ["leak"]


def test_a_return_with_later_evidence_ends_every_fault_before_it(bays: Scribe) -> None:
    fault(bays, "2026-03-02 08:00")
    fault(bays, "2026-03-02 09:00", "dropped")
    back(bays, "2026-03-03 12:00", verified(bays, "2026-03-03 10:00"))
    assert stopped(bays, "2026-03-03 11:59") == ["tipped", "dropped"]
    assert stopped(bays, "2026-03-03 12:00") == []
    fault(bays, "2026-03-04 08:00", "overfilled")
    assert stopped(bays) == ["overfilled"]


def test_evidence_alone_returns_nothing(bays: Scribe) -> None:
    fault(bays, "2026-03-02 08:00")
    verified(bays, "2026-03-03 10:00")
    assert stopped(bays) == ["tipped"]


def test_evidence_that_is_withdrawn_or_failed_after_all_returns_nothing(bays: Scribe) -> None:
    fault(bays, "2026-03-02 08:00")
    evidence = verified(bays, "2026-03-03 10:00")
    back(bays, "2026-03-03 12:00", evidence)
    fields = {"unit": "iso1", "item": "output verification"}
    bays.withdraw(evidence)
    assert stopped(bays) == ["tipped"]
    bays.replace(evidence, "2026-03-03 10:00", "service", outcome="passed", **fields)
    assert stopped(bays) == []
    bays.replace(evidence, "2026-03-03 10:00", "service", outcome="failed", **fields)
    assert stopped(bays) == ["tipped", "service failed"]
    bays.replace(evidence, "2026-03-02 07:00", "service", outcome="passed", **fields)
    assert stopped(bays) == ["tipped"], "the evidence is older than the fault"
    bays.replace(evidence, "2026-03-03 13:00", "service", outcome="passed", **fields)
    assert stopped(bays) == ["tipped"], "the evidence is younger than the return"


def test_a_fault_told_late_is_not_ended_by_evidence_from_before_it(bays: Scribe) -> None:
    evidence = verified(bays, "2026-03-03 10:00")
    back(bays, "2026-03-03 12:00", evidence)
    fault(bays, "2026-03-03 11:00")
    assert stopped(bays) == ["tipped"]


def test_a_fault_that_was_withdrawn_stops_nothing(bays: Scribe) -> None:
    bays.withdraw(fault(bays, "2026-03-02 08:00"))
    assert stopped(bays) == []


def test_a_return_that_was_withdrawn_brings_the_fault_back(bays: Scribe) -> None:
    fault(bays, "2026-03-02 08:00")
    returned = back(bays, "2026-03-03 12:00", verified(bays, "2026-03-03 10:00"))
    bays.withdraw(returned)
    assert stopped(bays) == ["tipped"]


STOPS = {"item": "leak", "state": "failed", "stops": True}


def test_a_check_with_a_failed_stopping_item_stops_the_machine(bays: Scribe) -> None:
    bays.check("2026-03-02 07:00", item="clock", state="failed")
    assert stopped(bays, unit="bay1") == []
    seq = bays.check("2026-03-02 08:00", **STOPS)
    (open_fault,) = open_faults(bays.book.connection, "bay1", bays.moment(NEVER).at_s)
    assert (open_fault.entry, open_fault.what, open_fault.detail) == (seq, "check failed", "leak")
    bays.check("2026-03-02 09:00")
    assert stopped(bays, unit="bay1") == ["check failed"], "a later check is evidence, no return"


def test_the_next_passed_check_is_evidence_for_the_machine(bays: Scribe) -> None:
    bays.check("2026-03-02 08:00", **STOPS)
    back(bays, "2026-03-02 08:30", bays.check("2026-03-02 08:20"), "bay1")
    assert stopped(bays, unit="bay1") == []


def test_a_check_corrected_to_passed_stops_nothing_any_more(bays: Scribe) -> None:
    seq = bays.check("2026-03-02 08:00", **STOPS)
    passed = {"machine": "bay1", "checklist": "daily", "version": 1}
    answers = ({"item": "leak", "state": "passed"},)
    bays.replace(seq, "2026-03-02 08:00", "check", answers=answers, **passed)
    assert stopped(bays, unit="bay1") == []


def today(tell: Scribe, at: str, machine: str = "bay1"):
    return tell.ask(at).known.checks.today(machine)


def test_the_last_daily_check_of_the_clinics_day_counts(bays: Scribe) -> None:
    failed = bays.check("2026-03-02 00:00", item="clock", state="failed")
    passed = bays.check("2026-03-02 23:59")
    bays.check("2026-03-02 12:00", checklist="before-case")
    bays.check("2026-03-02 12:00", "bay2")
    assert today(bays, "2026-03-01 23:59") is None
    assert (today(bays, "2026-03-02 12:30").entry, today(bays, "2026-03-02 12:30").verdict) == (
        failed,
        "failed",
    )
    done = today(bays, "2026-03-02 23:59:59")
    assert (done.entry, done.verdict, done.by) == (passed, "passed", "KO")
    assert today(bays, "2026-03-03 00:00") is None


def test_of_two_checks_in_a_minute_the_one_written_last_counts(bays: Scribe) -> None:
    bays.check("2026-03-02 08:00")
    bays.check("2026-03-02 08:00", state="not done", reason="called away")
    assert today(bays, "2026-03-02 09:00").verdict == "incomplete"
