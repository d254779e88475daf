"""Tables kept entry by entry hold what a rebuild out of all entries puts there."""

from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from logbook.entries import KINDS
from logbook.errors import InputError
from logbook.ledger.store import read_entry
from logbook.projections.project import counting, rebuild
from logbook.projections.tables import case, case_end, note, projected
from logbook.recording.opening import Book
from logbook.times import utc_text
from tests.ledger.scribe import Scribe, denver, undone
from tests.ledger.weeks import busy_week


def rows(book: Book) -> dict[str, list[tuple]]:
    """Every row of every projected table."""
    connection = book.connection
    return {
        table.name: [*map(tuple, connection.execute(select(table).order_by(*table.primary_key)))]
        for table in projected.sorted_tables
    }


def assert_rebuilt_alike(book: Book) -> None:
    before = rows(book)
    rebuild(book.connection)
    assert rows(book) == before


def test_a_week_of_every_kind_rebuilds_alike(book: Book, tell: Scribe) -> None:
    busy_week(tell)
    assert all(rows(book).values()), "a table without a row proves nothing"
    assert_rebuilt_alike(book)


def test_a_rebuild_counts_every_entry_and_works_in_batches(
    book: Book, tell: Scribe, monkeypatch: pytest.MonkeyPatch
) -> None:
    for n in range(7):
        tell("note", "2026-03-02 08:00", text=str(n))
    before = rows(book)
    monkeypatch.setattr("logbook.projections.project.BATCH_ROWS", 3)
    assert rebuild(book.connection) == 9
    assert rows(book) == before


def test_rows_that_do_not_come_from_an_entry_are_gone_after_a_rebuild(
    book: Book, tell: Scribe
) -> None:
    tell("note", "2026-03-02 08:00", text="true")
    before = rows(book)
    book.connection.execute(note.insert().values(entry=99, at_s=0, text="smuggled in"))
    assert rows(book) != before
    rebuild(book.connection)
    assert rows(book) == before


def texts(book: Book) -> list[str]:
    return list(book.connection.execute(select(note.c.text)).scalars())


def test_the_last_correction_of_an_entry_counts(book: Book, tell: Scribe) -> None:
    seq = tell("note", "2026-03-02 08:00", text="first")
    steps = [
        (lambda: tell.replace(seq, "2026-03-02 09:00", "note", text="second"), ["second"]),
        (lambda: tell.replace(seq, "2026-03-02 10:00", "note", text="third"), ["third"]),
        (lambda: tell.withdraw(seq), []),
        (lambda: tell.replace(seq, "2026-03-02 08:00", "note", text="first"), ["first"]),
    ]
    for correct, expected in steps:
        correct()
        assert texts(book) == expected
        now = counting(book.connection, seq)
        assert [now.body.text] * len(expected) == expected if now else expected == []
        assert_rebuilt_alike(book)
    assert read_entry(book.connection, seq).body.text == "first"


def test_begin_and_end_of_a_case_are_corrected_one_by_one(book: Book, tell: Scribe) -> None:
    tell("machine", "2026-03-01 08:00", machine="bay1")
    begun = tell("case_begin", "2026-03-02 08:00", machine="bay1")
    ended = tell("case_end", "2026-03-02 09:00", case_entry=begun)
    tell.replace(begun, "2026-03-02 08:10", "case_begin", machine="bay1", weight_g="4000")
    tell.replace(ended, "2026-03-02 09:30", "case_end", case_entry=begun)
    began_s = book.connection.execute(select(case.c.began_s)).scalar_one()
    ended_s = book.connection.execute(select(case_end.c.ended_s)).scalar_one()
    assert ended_s - began_s == 80 * 60
    assert_rebuilt_alike(book)
    tell.withdraw(ended)
    tell.withdraw(begun)
    assert rows(book)["case"] == rows(book)["case_end"] == []
    assert_rebuilt_alike(book)


START = denver("2026-03-02 06:00")
MACHINES, VAPORIZERS = ("bay1", "bay2"), ("iso1", "iso2")
Step = tuple[str, dict[str, Any]]


def step(kind: str, **fields: Any) -> st.SearchStrategy[Step]:
    told = {
        name: value if isinstance(value, st.SearchStrategy) else st.just(value)
        for name, value in fields.items()
    }
    return st.tuples(st.just(kind), st.fixed_dictionaries(told))


ON_MACHINE = st.sampled_from(MACHINES)
VAPORIZER = st.sampled_from(VAPORIZERS)
ANY_UNIT = st.sampled_from([*MACHINES, *VAPORIZERS])
FORMER = st.integers(0, 30)
"""Which of the entries before is meant."""
MEANT = {
    "case_entry": ("case_begin",),
    "evidence_entry": ("check", "service"),
    "former": tuple(KINDS),
}
"""The fields that name an entry before, and of which kinds it is where there is one."""
SEGMENTS = st.lists(
    st.fixed_dictionaries({"duration_s": st.integers(1, 900), "flow_ml_min": st.just("1000")}),
    max_size=2,
)
ANSWER = st.fixed_dictionaries(
    {
        "item": st.just("bag"),
        "state": st.sampled_from(["passed", "failed"]),
        "stops": st.booleans(),
        "absorbent_due": st.booleans(),
    }
)
CONTENT: st.SearchStrategy[Step] = st.one_of(
    step("case", machine=ON_MACHINE, ran_min=st.integers(1, 240), segments=SEGMENTS),
    step("absorbent_change", machine=ON_MACHINE),
    step("vaporizer_fitting", vaporizer=VAPORIZER, machine=ON_MACHINE),
    step("vaporizer_removal", vaporizer=VAPORIZER),
    step("agent_fill", vaporizer=VAPORIZER, level_ml="100", added_ml="3.50"),
    step("charcoal_change", machine=ON_MACHINE, weight_g="200"),
    step(
        "check",
        machine=ON_MACHINE,
        checklist="daily",
        version=1,
        answers=st.lists(ANSWER, min_size=1, max_size=1),
    ),
    step("service", unit=ANY_UNIT, item="service", outcome=st.sampled_from(["passed", "failed"])),
    step("fault", unit=ANY_UNIT, what="leak", stops=st.booleans()),
    step("return_to_service", unit=ANY_UNIT, evidence_entry=FORMER),
    step("rule_change", limit="absorbent-hours", value="6", reason="warm"),
    step("note", text=st.text(st.characters(codec="utf-8"), min_size=1).filter(str.strip)),
)
LIVE: st.SearchStrategy[Step] = st.one_of(
    step("case_begin", machine=ON_MACHINE, segments=SEGMENTS),
    step("case_end", case_entry=FORMER, segments=SEGMENTS),
)
CORRECTIONS: st.SearchStrategy[Step] = st.one_of(
    step("withdraw", former=FORMER),
    step("restore", former=FORMER),
    step("move", former=FORMER, by_min=st.integers(-90, 90)),
)
HISTORIES = st.lists(
    st.tuples(st.integers(0, 3000), st.one_of(CONTENT, CONTENT, LIVE, CORRECTIONS)),
    min_size=3,
    max_size=16,
)


def take(
    tell: Scribe, told: list[tuple[str, int]], after_min: int, kind: str, fields: dict[str, Any]
) -> int:
    """Record one step; what names an earlier entry gets one that there is."""
    at = START + timedelta(minutes=after_min)
    for name, kinds in MEANT.items():
        if name in fields:
            meant = [seq for one, seq in told if one in kinds] or [1]
            fields = fields | {name: meant[fields[name] % len(meant)]}
    if kind == "withdraw":
        return tell.withdraw(fields["former"])
    if kind in ("restore", "move"):
        old = read_entry(tell.book.connection, fields["former"])
        content = old.body.model_dump(mode="json", exclude_none=True)
        shift = timedelta(minutes=fields.get("by_min", 0))
        if "ended_at" in content:
            content["ended_at"] = utc_text(old.body.ended_at + shift)
        return tell.replace(old.seq, old.happened_at + shift, old.kind, **content)
    if kind == "case":
        fields = dict(fields)
        fields["ended_at"] = at + timedelta(minutes=fields.pop("ran_min"))
    return tell(kind, at, **fields)


@given(HISTORIES)
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_history_with_its_corrections_rebuilds_alike(
    shared_book: Book, history: list[tuple[int, Step]]
) -> None:
    tell = Scribe(shared_book)
    with undone(shared_book):
        told = [("machine", tell("machine", START, machine=tag)) for tag in MACHINES]
        for tag in VAPORIZERS:
            seq = tell("vaporizer", START, vaporizer=tag, agent="isoflurane")
            told.append(("vaporizer", seq))
        for after_min, (kind, fields) in history:
            try:
                told.append((kind, take(tell, told, after_min, kind, fields)))
                event(f"took {kind}")
            except InputError:
                event(f"refused {kind}")
        assert_rebuilt_alike(shared_book)
