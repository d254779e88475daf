"""What is left at the end of the day: cases that run, machines that were used unchecked."""

from logbook.answers.closing import Closing, closing
from logbook.answers.moment import moment_at
from logbook.recording.opening import Book
from tests.answers.diary import Diary
from tests.ledger.scribe import denver


def left(book: Book, at: str = "2026-03-03 17:00") -> Closing:
    return closing(book.connection, moment_at(denver(at), book.zone))


def test_a_case_that_runs_is_told_with_its_time_and_one_that_ended_is_not(
    diary: Diary, book: Book
) -> None:
    diary.check("2026-03-03 07:00")
    begun = diary("case_begin", "2026-03-03 15:30", machine="bay1", circuit="unknown")
    assert left(book) == Closing({"bay1": 5400}, {})
    diary("case_end", "2026-03-03 16:30", case_entry=begun)
    assert left(book) == Closing({}, {})


def test_a_machine_that_was_used_before_a_check_had_passed_is_told_that_day_alone(
    diary: Diary, book: Book
) -> None:
    diary.case("2026-03-02 09:00", "2026-03-02 10:00")
    diary.case("2026-03-03 09:00", "2026-03-03 10:00")
    diary.case("2026-03-03 11:00", "2026-03-03 12:00", machine="bay2")
    diary.check("2026-03-03 10:30", machine="bay2")
    diary.check("2026-03-03 10:30", state="failed")
    diary.case("2026-03-03 11:00", "2026-03-03 12:00")
    assert left(book) == Closing({}, {"bay1": 2})
    assert left(book, "2026-03-03 10:59") == Closing({}, {"bay1": 1})
    assert left(book, "2026-03-04 17:00") == Closing({}, {})
