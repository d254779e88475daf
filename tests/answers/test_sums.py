"""What ran in a span: as a plain count says, and the same however many spans are asked together."""

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from logbook.answers.spans import Span, Sums, on_machine, with_vaporizer
from logbook.projections.tables import case
from logbook.recording.opening import Book
from tests.ledger.scribe import Scribe, counted, denver

MONDAY_S = int(denver("2026-03-02 00:00").timestamp())
HOUR_S = 3600


@pytest.fixture
def used(bays: Scribe) -> Book:
    """Cases of every length on bay1 and bay2, one of which runs still; iso1 moves on Wednesday."""
    for day in range(2, 7):
        for hour, minutes in ((8, 30), (9, 150), (13, 5), (22, 170)):
            began = denver(f"2026-03-{day:02} {hour:02}:00")
            told = {"machine": f"bay{1 + day % 2}", "circuit": "unknown", "weight_g": "9000"}
            named = {"vaporizer": "iso1"} if hour == 9 else {}
            bays("case", began, ended_at=began + timedelta(minutes=minutes), **told, **named)
    bays("case_begin", "2026-03-07 08:00", machine="bay1", circuit="adult rebreathing")
    bays("vaporizer_fitting", "2026-03-04 12:00", vaporizer="iso1", machine="bay2")
    return bays.book


Asked = tuple[str, int, int]
ASKED = st.tuples(
    st.sampled_from(["bay1", "bay2", "iso1"]), st.integers(0, 3), st.integers(-2, 170)
)


def spans_of(book: Book, asked: list[Asked]) -> list[Span]:
    """The spans of some questions: of which unit, from which of four times, and how long."""
    question = Scribe(book).ask("2026-03-07 12:00")
    view, stays = question.vaporizers["iso1"], question.stays["iso1"]
    spans: list[Span] = []
    for number, (unit, since, half_hours) in enumerate(asked):
        since_s = MONDAY_S + 20 * since * HOUR_S
        until_s = since_s + half_hours * HOUR_S // 2
        if unit == "iso1":
            spans += with_vaporizer(number, view, stays, since_s, until_s)
        else:
            spans.append(on_machine(number, unit, since_s, until_s))
    return spans


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(asked=st.lists(ASKED, min_size=1, max_size=12))
def test_spans_together_or_one_after_the_other_are_added_up_as_each_alone(
    used: Book, asked: list[Asked]
) -> None:
    spans, connection = spans_of(used, asked), used.connection
    together, in_turn = Sums(connection).ran(spans), Sums(connection)
    for number in range(len(asked)):
        own = [span for span in spans if span.key == number]
        alone = Sums(connection).ran(own)
        assert together[number] == in_turn.ran(own)[number] == alone[number]


def test_a_span_is_what_a_plain_count_says(used: Book) -> None:
    rows = [row for row in used.connection.execute(case.select()) if row.machine == "bay1"]
    for hours in range(0, 120, 7):
        since_s, until_s = MONDAY_S + HOUR_S, MONDAY_S + hours * HOUR_S
        counted_s = sum(
            max(min(row.ended_s, until_s) - max(row.began_s, since_s), 0)
            for row in rows
            if row.ended_s
        )
        spans = [on_machine(n, "bay1", since_s, until_s - n * 1800) for n in range(3)]
        assert Sums(used.connection).ran(spans)[0].ran_s == counted_s


def test_what_was_added_up_is_not_read_again(used: Book) -> None:
    sums = Sums(used.connection)
    span = on_machine("absorbent", "bay1", MONDAY_S, MONDAY_S + 90 * HOUR_S)
    told = sums.ran([span])
    with counted(used.connection) as sent:
        assert sums.ran([span]) == told
    assert sent == []
