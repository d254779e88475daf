"""An open ledger and its scribe."""

import shutil
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


@pytest.fixture(scope="module")
def shared_book(founded: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    """One open ledger for all examples of a property; each takes back what it wrote."""
    path = Path(shutil.copy(founded, tmp_path_factory.mktemp("shared")))
    with writing(path) as opened:
        yield opened
