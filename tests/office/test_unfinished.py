"""A check that is being walked is kept answer by answer, and ended by a person."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import Table, select, update

from logbook.answers.checking import ToWalk, check_body, to_walk
from logbook.answers.moment import moment_at
from logbook.answers.unfinished import Unfinished, unfinished, unfinished_checks
from logbook.checklists import Answer, Item
from logbook.errors import InputError
from logbook.ledger.schema import unfinished_answer, unfinished_check
from logbook.office.unfinished import begin, keep, take_back, take_over, throw_away
from logbook.recording.opening import Book
from logbook.sheets.unfinished import unfinished_text
from tests.ledger.conftest import book, tell
from tests.ledger.scribe import Scribe

__all__ = ["book", "tell"]
NOW = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)
LATER = NOW + timedelta(minutes=3)
PASSED = Answer(state="passed")


@pytest.fixture
def walk(tell: Scribe, book: Book) -> ToWalk:
    """The oxygen-failure alarm of bay1: three ticks, and a number that it lacks."""
    tell("machine", "2026-03-01 08:00", machine="bay1", cylinders=())
    return to_walk(book.connection, moment_at(NOW, book.zone), "bay1", "oxygen-failure-alarm")


@pytest.fixture
def begun(walk: ToWalk, book: Book) -> Unfinished:
    """Begun by KO, who answered the first item."""
    so_far = begin(book, walk, "KO", NOW)
    return keep(book, walk, so_far, (walk.items[0], PASSED), by="KO", now=LATER)


def items(walk: ToWalk) -> tuple[Item, ...]:
    assert len(walk.items) == 3
    return walk.items


def test_an_answer_is_kept_with_its_time_and_by_whom(
    walk: ToWalk, begun: Unfinished, book: Book
) -> None:
    assert unfinished(book.connection, "bay1", "oxygen-failure-alarm") == begun
    assert unfinished(book.connection, "bay1", "daily") is None
    assert unfinished_checks(book.connection) == [begun]
    assert (begun.machine, begun.begun_at, begun.begun_by, begun.walked_by) == (
        "bay1", NOW, "KO", "KO",
    )  # fmt: skip
    kept = begun.kept[items(walk)[0].key]
    assert (kept.answer, kept.at, kept.by) == (PASSED, LATER, "KO")
    assert begun.last_at == LATER


def test_a_second_answer_to_an_item_stands_in_place_of_the_first(
    walk: ToWalk, begun: Unfinished, book: Book
) -> None:
    failed = Answer(state="failed", reason="no sound")
    now = keep(book, walk, begun, (items(walk)[0], failed), by="KO", now=LATER)
    assert now.answers == {items(walk)[0].key: failed}
    assert take_back(book, now, items(walk)[0], "KO").answers == {}


def test_an_answer_that_makes_no_sense_is_not_kept(
    walk: ToWalk, begun: Unfinished, book: Book
) -> None:
    with pytest.raises(InputError, match="is not done, so it needs a reason"):
        keep(book, walk, begun, (items(walk)[1], Answer(state="not done")), by="KO", now=LATER)
    assert unfinished_checks(book.connection) == [begun]


def test_a_second_person_takes_it_over_and_the_first_cannot_go_on(
    tell: Scribe, walk: ToWalk, begun: Unfinished, book: Book
) -> None:
    second = (items(walk)[1], PASSED)
    with pytest.raises(InputError, match="KO walks this oxygen-failure-alarm check"):
        keep(book, walk, begun, second, by="RT", now=LATER)
    taken = take_over(book, begun, "RT")
    assert (taken.begun_by, taken.walked_by) == ("KO", "RT")
    now = keep(book, walk, taken, second, by="RT", now=LATER)
    who = {key: one.by for key, one in now.kept.items()}
    assert who == {items(walk)[0].key: "KO", items(walk)[1].key: "RT"}
    for act in (
        lambda: keep(book, walk, begun, second, by="KO", now=LATER),
        lambda: take_back(book, begun, items(walk)[0], "KO"),
    ):
        with pytest.raises(InputError, match=r"RT walks this .* now; take it over"):
            act()


def test_one_list_of_a_machine_is_walked_once_at_a_time(
    walk: ToWalk, begun: Unfinished, book: Book
) -> None:
    for by in ("KO", "RT"):
        with pytest.raises(InputError, match="KO walks the oxygen-failure-alarm check of bay1"):
            begin(book, walk, by, LATER)
    throw_away(book, begun)
    again = begin(book, walk, "RT", LATER)
    assert again.id != begun.id
    # The disk may have failed after all was written: what one has just begun is found again.
    assert begin(book, walk, "RT", LATER) == again


def test_what_was_thrown_away_is_gone_with_its_answers_for_everybody(
    walk: ToWalk, begun: Unfinished, book: Book
) -> None:
    throw_away(book, begun)
    assert unfinished_checks(book.connection) == []
    assert book.connection.execute(select(unfinished_answer)).all() == []
    for act in (
        lambda: keep(book, walk, begun, (items(walk)[1], PASSED), by="KO", now=LATER),
        lambda: take_over(book, begun, "RT"),
        lambda: throw_away(book, begun),
    ):
        with pytest.raises(InputError, match="was saved or thrown away elsewhere"):
            act()


@pytest.mark.parametrize(("seconds", "ended"), [(4 * 3600, False), (4 * 3600 + 1, True)])
def test_it_ends_after_the_hours_in_which_answers_count_together(
    walk: ToWalk, begun: Unfinished, book: Book, seconds: int, ended: bool
) -> None:
    now = NOW + timedelta(seconds=seconds)
    assert begun.has_ended(now, Decimal(4)) is ended
    second = (items(walk)[1], PASSED)
    if ended:
        with pytest.raises(InputError, match="was begun over 4 h ago; begin it anew"):
            keep(book, walk, begun, second, by="KO", now=now)
    else:
        assert len(keep(book, walk, begun, second, by="KO", now=now).kept) == 2


def test_the_entry_tells_when_it_began_and_when_and_by_whom_each_item_was_answered(
    walk: ToWalk, begun: Unfinished, book: Book
) -> None:
    now = take_over(book, begun, "RT")
    for item in items(walk)[1:]:
        now = keep(book, walk, now, (item, PASSED), by="RT", now=LATER + timedelta(minutes=1))
    body = check_body(walk, now.answers, now)
    assert body.begun == NOW
    told = [(one.at, one.by) for one in body.answers if one.state != "not fitted"]
    assert told == [(LATER, "KO"), *[(LATER + timedelta(minutes=1), "RT")] * 2]
    assert check_body(walk, now.answers).begun is None


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        (unfinished_answer, "answer", '["passed"]'),
        (unfinished_answer, "answer", '{"state": 3}'),
        (unfinished_answer, "answer", '{"verdict": "passed"}'),
        (unfinished_answer, "answer", '{"held_s": true}'),
        (unfinished_answer, "answer", "[" * 900 + "]" * 900),
        (unfinished_answer, "answered_at", "yesterday"),
        (unfinished_check, "begun_at", "2026-03-02 07:00"),
        (unfinished_check, "begun_by", "\x1b[2J"),
        (unfinished_check, "walked_by", "K" * 41),
    ],
)
def test_what_another_program_wrote_into_the_tables_is_not_there(
    begun: Unfinished, book: Book, table: Table, column: str, value: str
) -> None:
    book.connection.execute(update(table).values({column: value}))
    found = unfinished_checks(book.connection)
    assert [one.kept for one in found] == ([{}] if table is unfinished_answer else [])


def test_initials_that_nobody_can_have_are_refused_in_words_at_the_end(
    walk: ToWalk, begun: Unfinished, book: Book
) -> None:
    for item in items(walk)[1:]:
        begun = keep(book, walk, begun, (item, PASSED), by="KO", now=LATER)
    book.connection.execute(update(unfinished_answer).values(by="nobody!"))
    [so_far] = unfinished_checks(book.connection)
    with pytest.raises(InputError, match="by is nobody!"):
        check_body(walk, so_far.answers, so_far)


def test_it_is_told_in_one_sentence(walk: ToWalk, begun: Unfinished, book: Book) -> None:
    told = unfinished_text(begun, LATER.astimezone(book.zone), Decimal(4))
    assert told == (
        "KO began the oxygen-failure-alarm check of bay1 at 2026-03-02 07:00; "
        "1 item answered, the last at 07:03"
    )
    later = NOW + timedelta(hours=5)
    other = replace(begun, walked_by="RT", again_of=7)
    assert unfinished_text(other, later.astimezone(book.zone), Decimal(4)) == (
        "KO began items of the oxygen-failure-alarm check of bay1 (entry 7) again at "
        "2026-03-02 07:00; 1 item answered, the last at 07:03; RT walks it now; "
        "it ended after 4 h without being finished"
    )
