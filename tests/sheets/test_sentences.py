"""What an entry says in a sentence, where its words depend on more than one field."""

from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from logbook.entries.check import Check
from logbook.ledger.store import Entry
from logbook.sheets.sentences import LONG_WALK_S, sentence

BEGAN = datetime(2026, 3, 2, 7, 5, tzinfo=UTC)


def told(*given: tuple[str | None, int | None], **more: Any) -> str:
    """The sentence of a check of which each item was answered by somebody so many seconds on."""
    answers = [
        {
            "item": f"item-{n}", "state": "passed", "by": by,
            "at": None if after_s is None else BEGAN + timedelta(seconds=after_s),
        }
        for n, (by, after_s) in enumerate(given)
    ]  # fmt: skip
    body = Check.of(machine="bay1", checklist="daily", version=1, answers=answers, **more)
    ends = BEGAN + timedelta(seconds=max(after_s or 0 for _, after_s in given))
    return sentence(Entry(7, "check", ends, ends, "KO", body), ZoneInfo("UTC"))


def test_a_check_of_several_people_names_them_and_one_that_was_interrupted_its_time() -> None:
    last = LONG_WALK_S - 1
    assert told(("KO", 0), ("KO", last)) == (
        "bay1 daily check passed, 2 items, 2026-03-02 07:34 by KO"
    )
    assert told(("KO", 0), ("RT", 60), ("KO", 90)) == (
        "bay1 daily check passed, 3 items, answered by KO and RT, 2026-03-02 07:06 by KO"
    )
    assert told(("KO", 0), ("KO", 40 * 60)) == (
        "bay1 daily check passed, 2 items, over 40 min, 2026-03-02 07:45 by KO"
    )
    assert told((None, None), (None, None)) == (
        "bay1 daily check passed, 2 items, 2026-03-02 07:05 by KO"
    )
