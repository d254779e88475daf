"""Hours on the absorbent, against ten lines that anybody can check."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import insert

from logbook.answers.absorbent import absorbent_items
from logbook.answers.item import ask
from logbook.answers.moment import moment_at
from logbook.entries.base import Body
from logbook.ledger.schema import entry as written
from logbook.ledger.store import Entry, head, new_id
from logbook.projections.facts import facts
from logbook.recording.opening import Book
from logbook.recording.record import Saved
from logbook.sheets.ground import ground_text
from logbook.times import utc_text
from tests.conftest import ZONE
from tests.ledger.scribe import LATER, Scribe, denver, undone

START = denver("2026-03-02 06:00")
CIRCUITS = ("adult rebreathing", "pediatric rebreathing", "unknown", "non-rebreathing")


@dataclass(frozen=True)
class Ran:
    """A case in minutes since the start, and what became of it: kept, withdrawn or moved away."""

    began: int
    ended: int
    circuit: str
    fate: str

    @property
    def counts(self) -> bool:
        return self.circuit != "non-rebreathing" and self.fate == "kept"


History = tuple[list[Ran], list[int], int, bool]


def reference_min(cases: list[Ran], changes: list[int], asked: int) -> int | None:
    """Minutes from the last change on, summed over the cases; None without a change."""
    past = [change for change in changes if change <= asked]
    if not past:
        return None
    total = 0
    for case in cases:
        if case.counts:
            total += max(0, min(case.ended, asked) - max(case.began, *past))
    return total


@st.composite
def histories(draw: st.DrawFn, fates: list[str]) -> History:
    """Cases one after another, changes at any time, the minute asked for, a case still running."""
    cases, at = [], 0
    for _ in range(draw(st.integers(0, 5))):
        began = at + draw(st.integers(0, 200))
        at = began + draw(st.integers(1, 300))
        circuit, fate = draw(st.sampled_from(CIRCUITS)), draw(st.sampled_from(fates))
        cases.append(Ran(began, at, circuit, fate))
    changes = draw(st.lists(st.integers(0, at + 60), max_size=3, unique=True))
    return cases, changes, draw(st.integers(0, at + 1500)), draw(st.booleans())


def after(minutes: int) -> datetime:
    return START + timedelta(minutes=minutes)


def write_case(tell: Scribe, case: Ran) -> None:
    fields = {"ended_at": after(case.ended), "circuit": case.circuit}
    seq = tell("case", after(case.began), machine="bay1", **fields)
    if case.fate == "withdrawn":
        tell.withdraw(seq)
    if case.fate == "moved":
        tell.replace(seq, after(case.began), "case", machine="bay2", **fields)


@pytest.fixture(scope="module")
def two_bays(shared_book: Book) -> Scribe:
    """Machines bay1 and bay2 for all examples."""
    tell = Scribe(shared_book)
    for tag in ("bay1", "bay2"):
        tell("machine", START, machine=tag)
    return tell


class Quick(Scribe):
    """Writes a bare entry and the rows that it means, so that a thousand histories are quick."""

    def save(self, body: Body, at: datetime, **_: Any) -> Saved:
        seq = head(self.book.connection)[0] + 1
        entry = Entry(seq, body.kind, at, LATER, "KO", body)
        times = {"happened": utc_text(at), "recorded": utc_text(LATER)}
        told = {f"{name}_{form}": text for name, text in times.items() for form in ("at", "local")}
        told |= {"seq": seq, "id": new_id(), "kind": body.kind, "by": "KO", "hash": "0" * 64}
        self.book.connection.execute(insert(written).values(told | {"body": "{}"}))
        for table, row in facts(entry):
            self.book.connection.execute(insert(table), row)
        return Saved(entry)


def assert_hours_of_the_reference(tell: Scribe, history: History, order: Random) -> None:
    cases, changes, asked, running = history
    written = [*cases, *changes]
    order.shuffle(written)
    with undone(tell.book):
        for one in written:
            if isinstance(one, Ran):
                write_case(tell, one)
            else:
                tell("absorbent_change", after(one), machine="bay1")
        if running:
            began = max((case.ended for case in cases), default=0)
            tell("case_begin", after(began), machine="bay1")
            cases = [*cases, Ran(began, began + 1440, "unknown", "kept")]
        question = ask(tell.book.connection, moment_at(after(asked), ZONE))
        line = absorbent_items(question, question.machines["bay1"])[0]
        expected = reference_min(cases, changes, asked)
        assert line.clock == "hours in use"
        if expected is None:
            assert line.standing == "no record"
        else:
            # Two digits tell every two numbers of minutes apart.
            assert line.used == Decimal(expected) / 60


FIXTURES_ARE_SHARED = [HealthCheck.function_scoped_fixture]


@given(histories(["kept"]), st.randoms(use_true_random=False))
@settings(max_examples=1000, deadline=None, suppress_health_check=FIXTURES_ARE_SHARED)
def test_any_history_in_any_order_gives_the_hours_of_the_reference(
    two_bays: Scribe, history: History, order: Random
) -> None:
    assert_hours_of_the_reference(Quick(two_bays.book), history, order)


@given(histories(["kept", "withdrawn", "moved"]), st.randoms(use_true_random=False))
@settings(max_examples=40, deadline=None, suppress_health_check=FIXTURES_ARE_SHARED)
def test_corrected_histories_give_the_hours_of_what_counts_in_the_end(
    two_bays: Scribe, history: History, order: Random
) -> None:
    assert_hours_of_the_reference(two_bays, history, order)


def change(tell: Scribe, at: str, **fields: str) -> int:
    return tell("absorbent_change", at, machine="bay1", **fields)


def standing(tell: Scribe, at: str) -> str | None:
    return tell.standing(at, "absorbent", "hours in use")


def test_eight_hours_are_due_and_beyond_is_overdue(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00")
    bays.case("2026-03-02 08:00", "2026-03-02 13:59")
    assert standing(bays, "2026-03-02 20:00") == "ok"
    bays.case("2026-03-02 14:00", "2026-03-02 14:01")
    assert standing(bays, "2026-03-02 20:00") == "due soon", "75 % of 8 h are 6 h"
    bays.case("2026-03-02 15:00", "2026-03-02 16:59:59")
    assert standing(bays, "2026-03-02 20:00") == "due soon"
    bays.case("2026-03-02 17:00", "2026-03-02 17:00:01")
    assert standing(bays, "2026-03-02 20:00") == "due", "exactly 8 h"
    bays.case("2026-03-02 18:00", "2026-03-02 18:00:01")
    assert standing(bays, "2026-03-02 20:00") == "overdue"


def test_an_absorbent_never_changed_counts_as_due(bays: Scribe) -> None:
    line = bays.due("2026-03-02 20:00", "absorbent", "hours in use")
    assert (line.standing, ground_text(line.reason)) == ("no record", "no change is recorded")
    change(bays, "2026-03-03 07:00")
    assert standing(bays, "2026-03-02 20:00") == "no record"
    assert standing(bays, "2026-03-03 07:00") == "ok"


def test_a_late_change_gives_the_same_hours(bays: Scribe) -> None:
    bays.case("2026-03-02 08:00", "2026-03-02 12:00")
    bays.case("2026-03-02 13:00", "2026-03-02 15:00")
    change(bays, "2026-03-02 09:00")
    assert bays.due("2026-03-02 20:00", "absorbent", "hours in use").used == Decimal("5")
    change(bays, "2026-03-02 12:30")
    change(bays, "2026-03-02 07:00")
    assert bays.due("2026-03-02 20:00", "absorbent", "hours in use").used == Decimal("2")


def test_a_running_case_counts_while_it_runs_and_a_day_at_most(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00")
    bays("case_begin", "2026-03-02 08:00", machine="bay1")
    used = {
        at: bays.due(at, "absorbent", "hours in use").used
        for at in ("2026-03-02 07:59", "2026-03-02 08:00", "2026-03-02 09:30", "2026-03-05 08:00")
    }
    assert list(used.values()) == [0, 0, Decimal("1.5"), 24]


def test_an_end_recorded_later_counts_from_the_begin(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00")
    begun = bays("case_begin", "2026-03-02 08:00", machine="bay1")
    bays("case_end", "2026-03-02 09:00", case_entry=begun)
    assert bays.due("2026-03-05 08:00", "absorbent", "hours in use").used == Decimal("1")
    assert bays.due("2026-03-02 08:30", "absorbent", "hours in use").used == Decimal("0.5")


def test_a_case_across_the_spring_change_counts_the_hours_that_passed(bays: Scribe) -> None:
    change(bays, "2026-03-07 12:00")
    bays.case("2026-03-08 01:30", "2026-03-08 03:30")
    assert bays.due("2026-03-08 12:00", "absorbent", "hours in use").used == Decimal("1")


def test_a_case_across_the_autumn_change_counts_the_hour_that_came_twice(bays: Scribe) -> None:
    change(bays, "2026-10-31 12:00")
    bays.case("2026-11-01 00:30", "2026-11-01 02:30")
    assert bays.due("2026-11-01 12:00", "absorbent", "hours in use").used == Decimal("3")


def test_non_rebreathing_cases_count_where_the_clinic_says_so(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00", circuit="non-rebreathing")
    assert bays.due("2026-03-02 20:00", "absorbent", "hours in use").used == Decimal("0")
    rule = {"limit": "absorbent-counts-non-rebreathing", "value": "1", "reason": "to be sure"}
    bays("rule_change", "2026-03-02 12:00", **rule)
    assert bays.due("2026-03-02 20:00", "absorbent", "hours in use").used == Decimal("1")


def test_cases_of_another_machine_do_not_count(bays: Scribe) -> None:
    change(bays, "2026-03-02 07:00")
    bays.case("2026-03-02 08:00", "2026-03-02 12:00", "bay2")
    assert bays.due("2026-03-02 20:00", "absorbent", "hours in use").used == Decimal("0")
