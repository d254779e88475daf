"""Service by the calendar and by run hours; the dates belong to the unit and travel with it."""

from decimal import Decimal

import pytest

from logbook.sheets.ground import ground_text
from tests.ledger.scribe import Scribe

VERIFY = "output verification"


def plan(tell: Scribe, unit: str = "iso1", item: str = VERIFY, **fields: str) -> int:
    return tell("service_plan", "2026-03-01 09:00", unit=unit, item=item, **fields)


def serve(tell: Scribe, at: str, outcome: str = "passed", unit: str = "iso1", item=VERIFY) -> int:
    return tell("service", at, unit=unit, item=item, outcome=outcome)


def due_on(tell: Scribe, at: str, unit: str = "iso1", item: str = VERIFY) -> str:
    return str(tell.due(at, item, "calendar", unit).due_on)


@pytest.mark.parametrize(
    ("last", "every", "expected"),
    [
        ("2025-11-30", "P3M", "2026-02-28"),
        ("2027-11-30", "P3M", "2028-02-29"),
        ("2026-01-31", "P1M", "2026-02-28"),
        ("2024-02-29", "P12M", "2025-02-28"),
        ("2026-02-01", "P30D", "2026-03-03"),
    ],
)
def test_months_are_months_of_the_calendar(
    bays: Scribe, last: str, every: str, expected: str
) -> None:
    serve(bays, f"{last} 12:00")
    plan(bays, every=every)
    assert due_on(bays, "2027-12-15 12:00") == expected


def test_a_service_moves_the_date_that_the_plan_began_with(bays: Scribe) -> None:
    plan(bays, every="P12M", last="2025-06-01")
    assert due_on(bays, "2026-03-06 12:00") == "2026-06-01"
    serve(bays, "2025-05-20 12:00")
    assert due_on(bays, "2026-03-06 12:00") == "2026-06-01", "older than what the plan knows"
    serve(bays, "2026-03-05 12:00")
    assert due_on(bays, "2026-03-06 12:00") == "2027-03-05"
    assert due_on(bays, "2026-03-04 12:00") == "2026-06-01", "not yet known then"


@pytest.mark.parametrize(
    ("asked", "word"),
    [
        ("2026-05-24 12:00", "ok"),
        ("2026-05-25 12:00", "due soon"),
        ("2026-06-01 00:00", "due"),
        ("2026-06-01 23:59", "due"),
        ("2026-06-02 00:00", "overdue"),
    ],
)
def test_a_service_is_due_on_its_day(bays: Scribe, asked: str, word: str) -> None:
    plan(bays, every="P12M", last="2025-06-01")
    assert bays.standing(asked, VERIFY, "calendar", "iso1") == word


def test_the_date_travels_with_the_vaporizer(bays: Scribe) -> None:
    plan(bays, every="P12M", last="2025-06-01")
    bays("vaporizer_fitting", "2026-03-10 08:00", vaporizer="iso1", machine="bay2")
    bays("vaporizer_removal", "2026-03-12 08:00", vaporizer="iso1")
    places = {}
    for asked in ("2026-03-09 12:00", "2026-03-11 12:00", "2026-03-13 12:00"):
        line = bays.due(asked, VERIFY, "calendar", "iso1")
        places[line.machine] = str(line.due_on)
    assert places == {"bay1": "2026-06-01", "bay2": "2026-06-01", None: "2026-06-01"}


def test_a_unit_without_a_plan_or_a_service_has_no_record(bays: Scribe) -> None:
    for unit, item in (("bay1", "service"), ("iso1", VERIFY)):
        line = bays.due("2026-03-06 12:00", item, "calendar", unit)
        assert (line.standing, ground_text(line.reason)) == (
            "no record",
            "no service plan is recorded",
        )
    plan(bays, every="P12M")
    line = bays.due("2026-03-06 12:00", VERIFY, "calendar", "iso1")
    assert (line.standing, ground_text(line.reason)) == ("no record", "no service is recorded")


def test_a_service_not_verified_moves_no_date(bays: Scribe) -> None:
    plan(bays, every="P12M", last="2025-06-01")
    serve(bays, "2026-03-05 12:00", "not verified")
    assert due_on(bays, "2026-03-06 12:00") == "2026-06-01"


def stopped(tell: Scribe, at: str, unit: str = "iso1") -> list[str]:
    from logbook.answers.service_state import open_faults

    moment = tell.moment(at)
    return [fault.what for fault in open_faults(tell.book.connection, unit, moment.at_s)]


def test_a_failed_service_stops_the_unit_and_is_due_until_one_passes(bays: Scribe) -> None:
    plan(bays, every="P12M", last="2025-06-01")
    failed = serve(bays, "2026-03-05 12:00", "failed")
    line = bays.due("2026-03-06 12:00", VERIFY, "calendar", "iso1")
    assert line.standing == "due"
    said = ground_text(line.reason).split(", recorded")[0].rstrip(")")
    assert said == f"the service of 2026-03-05 failed (entry {failed}"
    assert stopped(bays, "2026-03-06 12:00") == ["service failed"]
    passed = serve(bays, "2026-03-05 12:00")
    assert due_on(bays, "2026-03-06 12:00") == "2027-03-05"
    assert stopped(bays, "2026-03-06 12:00") == ["service failed"], "nobody returned it yet"
    bays("return_to_service", "2026-03-05 12:00", unit="iso1", evidence_entry=passed)
    assert stopped(bays, "2026-03-06 12:00") == []


def test_the_newest_plan_of_an_item_counts_from_its_day(bays: Scribe) -> None:
    plan(bays, every="P12M", last="2025-06-01")
    newer = {"unit": "iso1", "item": VERIFY, "every": "P6M", "last": "2025-06-01"}
    bays("service_plan", "2026-03-10 09:00", **newer)
    assert due_on(bays, "2026-03-09 12:00") == "2026-06-01"
    assert due_on(bays, "2026-03-10 12:00") == "2025-12-01"
    between = newer | {"every": "P1M"}
    bays("service_plan", "2026-03-05 09:00", **between)
    assert due_on(bays, "2026-03-09 12:00") == "2025-07-01"
    assert due_on(bays, "2026-03-10 12:00") == "2025-12-01"


def test_a_rule_that_came_to_its_end_counts_as_due(bays: Scribe) -> None:
    plan(bays, every="FREQ=MONTHLY;UNTIL=20260315", last="2026-02-01")
    assert due_on(bays, "2026-03-06 12:00") == "2026-03-01"
    serve(bays, "2026-03-02 12:00")
    assert bays.standing("2026-03-06 12:00", VERIFY, "calendar", "iso1") == "due"


def test_a_service_by_run_hours_counts_every_circuit_since_the_last_one(bays: Scribe) -> None:
    plan(bays, "bay1", "service", run_hours="4", last="2026-03-01")
    assert bays.standing("2026-03-03 20:00", "service", "hours in use") == "ok"
    bays.case("2026-02-28 20:00", "2026-03-01 01:00", circuit="non-rebreathing")
    bays.case("2026-03-02 08:00", "2026-03-02 11:00", circuit="non-rebreathing")
    line = bays.due("2026-03-03 20:00", "service", "hours in use")
    assert (line.used, line.limit, line.standing) == (4, 4, "due")
    serve(bays, "2026-03-02 10:00", unit="bay1", item="service")
    line = bays.due("2026-03-03 20:00", "service", "hours in use")
    assert (line.used, line.standing) == (1, "ok")


def test_run_hours_of_a_vaporizer_follow_it_from_machine_to_machine(bays: Scribe) -> None:
    plan(bays, run_hours="100", last="2026-03-01")
    bays("vaporizer_fitting", "2026-03-02 12:00", vaporizer="iso1", machine="bay2")
    bays("vaporizer_removal", "2026-03-03 12:00", vaporizer="iso1")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    bays.case("2026-03-02 13:00", "2026-03-02 23:00")
    bays.case("2026-03-02 11:30", "2026-03-02 12:30")
    bays.case("2026-03-02 14:00", "2026-03-02 16:00", "bay2")
    bays.case("2026-03-03 11:00", "2026-03-03 13:30", "bay2")
    bays.case("2026-03-03 14:00", "2026-03-03 22:00", "bay2")
    bays.case("2026-03-04 14:00", "2026-03-04 14:15", "bay2", vaporizer="iso1")
    used = bays.due("2026-03-05 12:00", VERIFY, "hours in use", "iso1").used
    assert used == Decimal("6.75"), (
        "1 h and 1 h on bay1, 2 h and 2.5 h on bay2, 0.25 h where it is named"
    )
    assert bays.due("2026-03-02 15:00", VERIFY, "hours in use", "iso1").used == Decimal("3")


def test_a_case_that_names_another_vaporizer_does_not_wear_this_one(bays: Scribe) -> None:
    bays("vaporizer", "2026-03-01 08:00", vaporizer="iso2", agent="isoflurane")
    for tag in ("iso1", "iso2"):
        plan(bays, tag, run_hours="100", last="2026-03-01")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00", vaporizer="iso2")
    hours = [bays.due("2026-03-05", VERIFY, "hours in use", tag).used for tag in ("iso1", "iso2")]
    assert hours == [0, 1]


@pytest.mark.parametrize(("fitted", "hours"), [("08:00:00", 1), ("08:00:01", 0)])
def test_a_first_fitting_within_a_day_of_the_entry_counts_from_before_it(
    bays: Scribe, fitted: str, hours: int
) -> None:
    bays("vaporizer", "2026-03-10 08:00", vaporizer="iso2", agent="isoflurane")
    bays("vaporizer_fitting", f"2026-03-11 {fitted}", vaporizer="iso2", machine="bay2")
    plan(bays, "iso2", run_hours="100", last="2026-03-01")
    bays.case("2026-03-05 08:00", "2026-03-05 09:00", "bay2")
    assert bays.due("2026-03-12 12:00", VERIFY, "hours in use", "iso2").used == hours
