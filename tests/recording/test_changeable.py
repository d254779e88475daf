"""Every field of every kind is either changed by one value, or left alone on purpose."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from logbook.answers.changeable import STANDS, changeable
from logbook.entries import model
from logbook.projections.project import NEVER_CORRECTED
from logbook.recording.opening import Book, reading
from logbook.recording.telling_anew import told_anew
from tests.conftest import ZONE
from tests.entries.fields import FULL

NOW = datetime(2026, 3, 6, 23, 0, tzinfo=UTC)


@pytest.fixture
def book(ledger: Path) -> Iterator[Book]:
    with reading(ledger) as opened:
        yield opened


KINDS = sorted(FULL.keys() - NEVER_CORRECTED)


@pytest.mark.parametrize("kind", KINDS)
def test_what_an_entry_says_reads_back_as_itself(book: Book, kind: str) -> None:
    """A person may type what is shown: each value as it is told, in its own words."""
    body = model(kind).of(**FULL[kind])
    content = body.model_dump(mode="json", exclude_none=True)
    for one in changeable(body, ZONE):
        if one.now is None or one.field == "ended_at":
            continue
        field, value = told_anew(body, book, NOW, one.words, one.now)
        again = model(kind).of(**content | {field: value})
        assert getattr(again, field) == getattr(body, field), one


@pytest.mark.parametrize("kind", KINDS)
def test_a_field_is_called_by_one_word_alone(kind: str) -> None:
    body = model(kind).of(**FULL[kind])
    words = [one.words for one in changeable(body, ZONE)]
    assert len(set(words)) == len(words)
    left = set(type(body).model_fields) - {one.field for one in changeable(body, ZONE)}
    assert left <= STANDS | {"segments", "outputs", "circuits", "cylinders"}


@pytest.mark.parametrize(
    ("kind", "word", "text", "value"),
    [
        ("absorbent_change", "mass", "2.5lb", Decimal("1133.980925")),
        ("absorbent_change", "expiry", "2027-06-30", date(2027, 6, 30)),
        ("absorbent_change", "lot", " ", None),
        ("case_begin", "pop off open", "shut", False),
        ("case", "circuit", "bain", "non-rebreathing"),
        ("case", "weight", "24 kg", Decimal(24000)),
        ("service_plan", "every", "6 months", "P6M"),
        ("fault", "stops", "no", False),
    ],
)
def test_a_value_is_read_as_a_person_writes_it(
    book: Book, kind: str, word: str, text: str, value: Any
) -> None:
    body = model(kind).of(**FULL[kind])
    field, told = told_anew(body, book, NOW, word, text)
    content = body.model_dump(mode="json", exclude_none=True) | {field: told}
    assert getattr(model(kind).of(**content), field) == value
