"""``--as-known-on``: the answers that were given then, beside those of today."""

import json
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from logbook.answers.audit import audit
from logbook.answers.board import board
from logbook.answers.due import due
from logbook.answers.history import history
from logbook.answers.moment import Moment, end_of
from logbook.answers.ready import ready
from logbook.ledger.store import Draft
from logbook.office.earlier import as_known
from logbook.office.office import Office
from logbook.proof.seen import Memory
from logbook.recording import demo
from logbook.recording.opening import Book, reading
from logbook.recording.record import Saved, record
from logbook.sheets.as_json import plain
from logbook.sheets.audit import FindingRow
from logbook.sheets.board_text import BoardRow, ReadySheet
from logbook.sheets.due_text import DueRow
from logbook.sheets.history_text import HistoryEntry
from logbook.times import utc_from_epoch_s
from tests.conftest import ZONE, Ran

Command = Callable[..., Ran]
SAMPLE = Path(__file__).parents[2] / "sample_data"
DAYS = [date(2026, 3, day) for day in range(2, 7)] + [date(2026, 2, 6), date(2026, 2, 17)]
"""Every day of the demo's last week, and two days of which something was recorded late."""
UNITS = ("bay1", "bay2", "bay3", "dental", "exotics", "imaging")


def given(book: Book, day: date) -> dict[str, Any]:
    """What the questions answer at the end of a day, from a ledger as it stands that day."""
    moment = end_of(day, book.zone)
    return plain(
        {
            "due": [DueRow.of(one) for one in due(book.connection, moment)],
            "board": [BoardRow.of(one) for one in board(book.connection, moment)],
            "audit": _audited(book, moment),
            "ready": {tag: _ready(book, moment, tag) for tag in UNITS},
            "history": {tag: _history(book, moment, tag) for tag in UNITS},
        }
    )


def _ready(book: Book, moment: Moment, tag: str) -> list[Any]:
    answer = ReadySheet.of(ready(book.connection, moment, tag))
    return [answer.verdict, answer.reasons]


def _history(book: Book, moment: Moment, tag: str) -> list[HistoryEntry]:
    found = history(book.connection, tag, 0, moment.at_s, 50)
    return [HistoryEntry.of(line, book.zone) for line in found.lines]


def _audited(book: Book, moment: Moment) -> list[FindingRow]:
    answer = audit(book.connection, moment, date(2026, 1, 12), moment.day)
    return [FindingRow.of(one, book.zone) for one in answer.findings]


@pytest.fixture(scope="module")
def day_by_day(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[date, Any]]:
    """The demo as it was kept, and the answers that it gave on the evening of each day."""
    path = tmp_path_factory.mktemp("demo") / "demo.ledger"
    waiting, kept = sorted(DAYS), {}

    def recording(book: Book, draft: Draft, now: datetime) -> Saved:
        while waiting and now.astimezone(ZONE).date() > waiting[0]:
            day = waiting.pop(0)
            kept[day] = given(book, day)
        return record(book, draft, now)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(demo, "record", recording)
        demo.build_demo(path, SAMPLE)
    with reading(path) as book:
        kept |= {day: given(book, day) for day in waiting}
    return path, kept


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_what_was_known_on_a_day_is_what_was_answered_on_that_day(
    day_by_day: tuple[Path, dict[date, Any]], own_folder: Path, day: date
) -> None:
    path, kept = day_by_day
    office = Office(path, Memory(own_folder), lambda: datetime(2026, 3, 7, tzinfo=ZONE))
    with office.reading(print, long=True) as opened:
        at = utc_from_epoch_s(end_of(day, opened.zone).at_s)
        with as_known(opened, at) as earlier:
            assert given(earlier, day) == kept[day]


def test_the_days_differ_where_something_was_recorded_later(
    day_by_day: tuple[Path, dict[date, Any]], run_logbook: Command
) -> None:
    path, _ = day_by_day
    words = ("--ledger", str(path), "audit", "--from", "2026-02-17", "--to", "2026-02-17")
    ran = run_logbook(*words, "--machine", "dental", "--as-known-on", "2026-02-17")
    assert ran.code == 3
    # The check of that morning was written down on the next day.
    assert "THEN: 2026-02-17 dental: ran 2 cases, and no daily check of that day" in ran.out
    assert "NOW: 2026-02-17 dental: check 565 says 07:31" in ran.out


@pytest.fixture
def corrected(run_logbook: Command, clock: Callable[[datetime], None]) -> Command:
    """A change of Monday that was entered and put right later, and a rule of Wednesday."""
    told = (
        ("2026-03-01T08:00", "machine add bay1"),
        ("2026-03-02T08:00", "absorbent change bay1"),
        ("2026-03-04T12:00", "rule set absorbent-days 1 --machine bay1 --because policy"),
        ("2026-03-05T12:00", "correct 4 --happened 2026-03-03T08:00 --because misread"),
    )
    for at, words in told:
        clock(datetime.fromisoformat(at).replace(tzinfo=ZONE))
        ran = run_logbook(*words.split())
        assert ran.saved, ran.err
    clock(datetime(2026, 3, 6, 16, tzinfo=ZONE))
    return run_logbook


def line_of(ran: Ran, start: str) -> list[str]:
    return [line for line in ran.out.split("\n") if line.strip().startswith(start)]


def test_a_rule_counts_from_when_it_was_recorded(corrected: Command) -> None:
    words = ("due", "--all", "--as-of", "2026-03-05")
    before = corrected(*words, "--as-known-on", "2026-03-04 11:59")
    assert "absorbent, due on Mon 2026-03-16 (last change 2026-03-02 08:00)" in before.out
    assert "THEN" in before.out
    after = corrected(*words, "--as-known-on", "2026-03-04 12:00")
    assert "OVERDUE: absorbent, due on Tue 2026-03-03 (last change 2026-03-02 08:00)" in after.out


def test_a_correction_counts_from_when_it_was_recorded(corrected: Command) -> None:
    words = ("history", "bay1", "--as-known-on")
    before = corrected(*words, "2026-03-05 11:59")
    assert [one[:18] for one in line_of(before, "THEN: 4 ")] == ["THEN: 4 bay1 absor"]
    after = corrected(*words, "2026-03-05 12:00")
    assert "THEN" not in after.out.partition("\n")[2]
    assert "Nothing of this is known otherwise now." in after.out


def test_the_differences_stand_in_the_json_with_both_answers(corrected: Command) -> None:
    told = json.loads(corrected("ready", "bay1", "--as-known-on", "2026-03-03", "--json").out)
    assert (told["then"]["schema"], told["now"]["schema"]) == ("ready/1", "ready/1")
    assert told["known_on"] == "2026-03-04T06:59:59Z"
    assert [list(one) for one in told["differences"]] == [["then", "now"]] * len(
        told["differences"]
    )
    assert any("2026-03-03 08:00" in line for one in told["differences"] for line in one["now"])


def test_the_end_of_today_knows_all_that_is_known_now(corrected: Command) -> None:
    assert (
        json.loads(corrected("due", "--as-known-on", "2026-03-06", "--json").out)["differences"]
        == []
    )


def test_a_machine_that_nobody_had_entered_is_not_known_then(
    corrected: Command, clock: Callable[[datetime], None]
) -> None:
    assert corrected("machine", "add", "bay2").code == 0
    ran = corrected("ready", "bay2", "--as-known-on", "2026-03-05 11:00")
    assert ran.code == 2
    assert "as known on 2026-03-05 11:00: there is no machine bay2" in ran.err


def test_an_earlier_moment_leaves_the_ledger_as_it_was(corrected: Command, ledger: Path) -> None:
    before = ledger.read_bytes()
    corrected("audit", "--from", "2026-03-02", "--as-known-on", "2026-03-03")
    assert ledger.read_bytes() == before
