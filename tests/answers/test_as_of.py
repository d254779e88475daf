"""A question about the past counts what had happened by then, whenever it was written down."""

from decimal import Decimal

import pytest

from logbook.answers.board import board
from logbook.answers.due import due
from logbook.answers.equipment import machine_lines, vaporizer_lines
from logbook.answers.moment import end_of, moment_at
from logbook.projections.lookup import machine_views, running_case
from tests.conftest import ZONE
from tests.ledger.scribe import Scribe, denver

THEN = "2026-03-02 12:00"


def answers(tell: Scribe) -> list:
    connection, moment = tell.book.connection, tell.moment(THEN)
    return [
        due(connection, moment),
        machine_lines(connection, moment),
        vaporizer_lines(connection, moment),
        board(connection, moment),
    ]


LATER_FACTS = [
    ("absorbent_change", {"machine": "bay1"}),
    ("agent_fill", {"vaporizer": "iso1", "level_ml": "9"}),
    ("charcoal_change", {"machine": "bay1"}),
    ("service", {"unit": "iso1", "item": "output verification", "outcome": "failed"}),
    ("fault", {"unit": "bay1", "what": "leak", "stops": True}),
    ("rule_change", {"limit": "absorbent-hours", "value": "1", "reason": "x"}),
    ("vaporizer_removal", {"vaporizer": "iso1"}),
    ("machine_retirement", {"machine": "bay2", "reason": "sold"}),
    ("machine_change", {"machine": "bay1", "location": "room 2", "reason": "x"}),
    ("case_begin", {"machine": "bay1"}),
    ("oxygen_reading", {"machine": "bay1", "cylinder_psi": "100"}),
    ("case", {"machine": "bay1", "ended_at": "2026-03-02T21:00:00Z"}),
]


def known_facts(tell: Scribe) -> None:
    tell("absorbent_change", "2026-03-02 07:00", machine="bay1")
    tell("agent_fill", "2026-03-02 07:00", vaporizer="iso1", level_ml="200")
    tell("service_plan", "2026-03-01 07:00", unit="iso1", item="output verification", every="P12M")
    tell.check("2026-03-02 07:30")
    setting = {"flow_ml_min": "1000", "dial_percent": "2"}
    tell.case("2026-03-02 08:00", "2026-03-02 09:00", segments=(setting,))


@pytest.mark.parametrize(("kind", "fields"), LATER_FACTS)
def test_what_happened_later_does_not_show(bays: Scribe, kind: str, fields: dict) -> None:
    known_facts(bays)
    before = answers(bays)
    bays(kind, "2026-03-02 12:00:01", **fields)
    assert answers(bays) == before


def test_every_later_fact_shows_at_its_own_time(bays: Scribe) -> None:
    """Or else the test above would say nothing."""
    known_facts(bays)
    for kind, fields in LATER_FACTS:
        savepoint = bays.book.connection.begin_nested()
        before = answers(bays)
        bays(kind, "2026-03-02 12:00:00", **fields)
        assert answers(bays) != before, kind
        savepoint.rollback()


def test_what_is_told_late_shows_where_it_happened(bays: Scribe) -> None:
    known_facts(bays)
    bays("fault", "2026-03-09 12:00", unit="bay2", what="leak", stops=True)
    bays.case("2026-03-02 10:00", "2026-03-02 11:30")
    assert bays.due(THEN, "absorbent", "hours in use").used == Decimal("2.5")


def test_a_case_runs_from_its_begin_to_its_end(bays: Scribe) -> None:
    begun = bays("case_begin", "2026-03-02 08:00", machine="bay1")
    bays("case_end", "2026-03-02 09:00", case_entry=begun)
    logged = bays.case("2026-03-02 10:00", "2026-03-02 11:00")
    last = bays("case_begin", "2026-03-02 12:00", machine="bay1")

    def runs(at: str) -> int | None:
        row = running_case(bays.book.connection, "bay1", bays.moment(at).at_s)
        return row.entry if row else None

    times = ["07:59", "08:00", "08:59", "09:00", "10:30", "11:00", "12:00", "23:00"]
    found = [runs(f"2026-03-02 {time}") for time in times]
    assert found == [None, begun, begun, None, logged, None, last, last]
    assert running_case(bays.book.connection, "bay1").entry == last


def test_a_day_ends_with_its_last_second_in_the_clinic() -> None:
    moment = end_of(denver("2026-03-08 12:00").date(), ZONE)
    assert moment.at_s == denver("2026-03-08 23:59:59").timestamp()
    assert moment.at_s - moment.day_began_s(moment.day) == 23 * 3600 - 1
    assert moment_at(denver("2026-03-08 23:59:59"), ZONE) == moment


def test_a_change_that_was_told_before_the_machine_was_added_counts(tell: Scribe) -> None:
    tell("machine", "2026-03-05 08:00", machine="bay9", location="stores")
    change = {"machine": "bay9", "location": "room 2", "reason": "moved"}
    tell("machine_change", "2026-03-02 08:00", **change)
    views = {at: machine_views(tell.book.connection, tell.moment(at).at_s)["bay9"].location
             for at in ("2026-03-01 08:00", "2026-03-02 08:00", "2026-03-06 08:00")}  # fmt: skip
    assert list(views.values()) == ["stores", "room 2", "room 2"]


def test_the_case_whose_end_was_withdrawn_runs_again(bays: Scribe) -> None:
    first = bays("case_begin", "2026-03-02 08:00", machine="bay1")
    end = bays("case_end", "2026-03-02 09:00", case_entry=first)
    later = bays("case_begin", "2026-03-04 08:00", machine="bay1")
    bays("case_end", "2026-03-04 09:00", case_entry=later)
    bays.case("2026-03-05 08:00", "2026-03-05 09:00")

    def runs(at: str) -> int | None:
        row = running_case(bays.book.connection, "bay1", bays.moment(at).at_s)
        return row.entry if row else None

    assert [runs(f"2026-03-02 0{hour}:00") for hour in (7, 8, 9)] == [None, first, None]
    assert [runs(f"2026-03-05 0{hour}:30") for hour in (7, 8, 9)] == [None, later + 2, None]
    bays.withdraw(end)
    assert runs("2026-03-05 09:30") == first


def test_a_case_that_was_begun_on_another_machine_runs_where_a_correction_puts_it(
    bays: Scribe,
) -> None:
    begun = bays("case_begin", "2026-03-02 08:00", machine="bay2")
    later = bays("case_begin", "2026-03-04 08:00", machine="bay1")
    bays("case_end", "2026-03-04 09:00", case_entry=later)
    bays.replace(begun, "2026-03-02 08:00", "case_begin", machine="bay1")
    row = running_case(bays.book.connection, "bay1", bays.moment("2026-03-05 08:00").at_s)
    assert row is not None
    assert row.entry == begun
