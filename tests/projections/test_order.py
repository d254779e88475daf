"""What is due follows from what happened, never from the order in which it was written down."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from logbook.answers.due import due
from logbook.answers.equipment import machine_lines, vaporizer_lines
from logbook.answers.item import DueItem
from logbook.recording.opening import Book
from tests.ledger.scribe import Scribe, denver, undone

START = denver("2026-03-02 06:00")
Fact = tuple[str, dict[str, Any]]
CHECK = {"machine": "bay1", "checklist": "daily", "version": 1}
COLOUR = {"item": "colour", "state": "failed", "absorbent_due": True, "choice": "changed"}
FACTS: list[Fact] = [
    ("case", {"machine": "bay1", "circuit": "adult rebreathing"}),
    ("case", {"machine": "bay1", "segments": ({"flow_ml_min": "900", "dial_percent": "2"},)}),
    ("absorbent_change", {"machine": "bay1"}),
    ("charcoal_change", {"machine": "bay1", "weight_g": "200"}),
    ("charcoal_weight", {"machine": "bay1", "weight_g": "220"}),
    ("charcoal_weight", {"machine": "bay1", "weight_g": "240"}),
    ("agent_fill", {"vaporizer": "iso1", "level_ml": "100"}),
    ("agent_fill", {"vaporizer": "iso1", "added_ml": "20"}),
    ("vaporizer_fitting", {"vaporizer": "iso1", "machine": "bay1"}),
    ("vaporizer_fitting", {"vaporizer": "iso1", "machine": "bay2"}),
    ("service_plan", {"unit": "iso1", "item": "service", "every": "P6M", "run_hours": "9"}),
    ("service_plan", {"unit": "iso1", "item": "service", "every": "P1M"}),
    ("service", {"unit": "iso1", "item": "service", "outcome": "passed"}),
    ("service", {"unit": "iso1", "item": "service", "outcome": "failed"}),
    ("rule_change", {"limit": "absorbent-hours", "value": "2", "reason": "warm"}),
    ("rule_change", {"limit": "absorbent-hours", "value": "3", "reason": "warm"}),
    ("rule_change", {"limit": "absorbent-hours", "value": "5", "machine": "bay1", "reason": "x"}),
    ("check", CHECK | {"answers": (COLOUR,)}),
    ("fault", {"unit": "bay1", "what": "leak", "stops": True}),
    ("machine_change", {"machine": "bay1", "scavenging": "charcoal", "reason": "x"}),
    ("machine_change", {"machine": "bay1", "location": "room 2", "reason": "x"}),
    ("machine_change", {"machine": "bay1", "location": "room 3", "reason": "x"}),
]


def answers(book: Book, at: str) -> list[Any]:
    moment = Scribe(book).moment(at)

    def without_number(line: DueItem) -> DueItem:
        reason = line.reason
        return replace(line, reason=replace(reason, entry=0)) if hasattr(reason, "entry") else line

    units = [*machine_lines(book.connection, moment), *vaporizer_lines(book.connection, moment)]
    stopped = [[(f.unit, f.what, f.at) for f in unit.out_of_service] for unit in units]
    return [
        *map(without_number, due(book.connection, moment)),
        *(replace(unit, out_of_service=why) for unit, why in zip(units, stopped, strict=True)),
    ]


@given(st.data())
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_the_order_of_writing_does_not_change_an_answer(
    shared_book: Book, data: st.DataObject
) -> None:
    # A few kinds at a time, so that facts of one kind meet.
    kinds = data.draw(st.sets(st.sampled_from([kind for kind, _ in FACTS]), min_size=1, max_size=3))
    some = [fact for fact in FACTS if fact[0] in kinds]
    facts = data.draw(st.lists(st.sampled_from(some), min_size=2, max_size=9))
    # Every fact has an hour of its own: what happens at once is told apart by its number.
    hours = data.draw(st.permutations(range(len(facts))))
    happened = list(zip(hours, facts, strict=True))
    asked = data.draw(st.sampled_from(["2026-03-02 10:30", "2026-03-31 12:00"]))
    found = []
    for order in (happened, data.draw(st.permutations(happened))):
        with undone(shared_book):
            tell = Scribe(shared_book)
            for tag in ("bay1", "bay2"):
                tell("machine", START, machine=tag)
            tell("vaporizer", START, vaporizer="iso1", agent="isoflurane", low_mark_ml="25")
            for hour, (kind, fields) in order:
                at = START + timedelta(hours=hour)
                lasting = {"ended_at": at + timedelta(minutes=50)} if kind == "case" else {}
                tell(kind, at, **fields, **lasting)
            found.append(answers(shared_book, asked))
    assert found[0] == found[1]
