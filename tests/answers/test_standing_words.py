"""Ok, due soon, due, overdue: on which side of a boundary each word begins."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.answers.due import needs_attention, worst_first
from logbook.answers.ground import Missing
from logbook.answers.item import Clock, Place, no_record
from logbook.answers.standing import WORST_FIRST, by_amount, by_date

DAY = date(2026, 3, 6)


@pytest.mark.parametrize(
    ("due_in_days", "word"),
    [(-1, "overdue"), (0, "due"), (1, "due soon"), (7, "due soon"), (8, "ok")],
)
def test_a_date_is_due_on_its_day_and_due_soon_the_week_before(due_in_days: int, word: str) -> None:
    assert by_date(DAY + timedelta(days=due_in_days), DAY, Decimal(7)) == word


@pytest.mark.parametrize(
    ("used", "word"),
    [("5.999", "ok"), ("6", "due soon"), ("7.999", "due soon"), ("8", "due"), ("8.001", "overdue")],
)
def test_an_amount_is_due_at_its_limit_and_due_soon_from_three_quarters(
    used: str, word: str
) -> None:
    assert by_amount(Decimal(used), Decimal(8), Decimal(75)) == word


ORDER = ["ok", "due soon", "due", "overdue"]


@given(st.lists(st.decimals(0, 99, places=3), min_size=2).map(sorted), st.integers(1, 90))
def test_more_use_never_stands_better(used: list[Decimal], limit: int) -> None:
    ranks = [ORDER.index(by_amount(one, Decimal(limit), Decimal(75))) for one in used]
    assert all(less <= more for less, more in pairwise(ranks))


def lines(*told: tuple[str | None, str]) -> list:
    from dataclasses import replace

    made = []
    for machine, standing in told:
        line = no_record(Place(machine, machine or "iso1", "x"), Clock.SEEN, Missing.CHECK)
        made.append(replace(line, standing=standing))
    return made


def test_the_machine_with_the_worst_line_comes_first() -> None:
    told = lines(
        ("bay1", "ok"), (None, "due"), ("bay2", "overdue"), ("bay2", "ok"), ("bay3", "due")
    )
    assert [(line.machine, line.standing) for line in worst_first(told)] == [
        ("bay2", "overdue"),
        ("bay2", "ok"),
        ("bay3", "due"),
        (None, "due"),
        ("bay1", "ok"),
    ]


@pytest.mark.parametrize("word", WORST_FIRST)
def test_what_is_due_overdue_or_unrecorded_asks_for_attention(word: str) -> None:
    expected = word in ("due", "overdue", "no record")
    assert needs_attention(lines(("bay1", "ok"), ("bay1", word))) is expected
