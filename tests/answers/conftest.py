"""An open ledger and its scribe, as in the tests of the ledger."""

import pytest

from logbook.recording.opening import Book
from tests.answers.diary import Diary
from tests.ledger.conftest import book, shared_book, tell
from tests.ledger.scribe import Scribe

__all__ = ["book", "shared_book", "tell"]


@pytest.fixture
def bays(tell: Scribe) -> Scribe:
    """Machines bay1 and bay2, and the vaporizer iso1 on bay1."""
    for tag in ("bay1", "bay2"):
        tell("machine", "2026-03-01 08:00", machine=tag)
    iso = {"vaporizer": "iso1", "agent": "isoflurane", "capacity_ml": "250", "low_mark_ml": "25"}
    tell("vaporizer", "2026-03-01 08:00", **iso)
    tell("vaporizer_fitting", "2026-03-01 08:00", vaporizer="iso1", machine="bay1")
    return tell


@pytest.fixture
def diary(book: Book) -> Diary:
    diary = Diary(book)
    diary("machine", "2026-01-02 08:00", machine="bay1")
    diary("machine", "2026-01-02 08:00", machine="bay2")
    diary("vaporizer", "2026-01-02 08:00", vaporizer="iso1", agent="isoflurane")
    diary("vaporizer_fitting", "2026-01-02 08:00", vaporizer="iso1", machine="bay1")
    return diary
