"""An open ledger and its scribe."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from logbook.recording.opening import Book, writing
from tests.ledger.scribe import Scribe


@pytest.fixture
def book(ledger: Path) -> Iterator[Book]:
    """The test's own ledger, open for writing."""
    with writing(ledger) as opened:
        yield opened


@pytest.fixture
def tell(book: Book) -> Scribe:
    """Writes into the open ledger."""
    return Scribe(book)
