"""Every version must open the ledgers of all released versions, entry for entry as they were."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from logbook.ledger.store import head
from logbook.proof.verify import verify
from logbook.recording.opening import reading

FIXTURES = Path(__file__).parents[1] / "fixtures"
HEADS = {
    path.stem: path.with_suffix(".head").read_text().split() for path in FIXTURES.glob("*.ledger")
}
"""Number of entries and head of the demo's ledger of each released version."""


@pytest.fixture(params=sorted(HEADS))
def released(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A copy of a released version's ledger."""
    return Path(shutil.copy(FIXTURES / f"{request.param}.ledger", tmp_path))


def test_there_is_a_ledger_of_a_released_version() -> None:
    assert "0.1.0" in HEADS


def test_a_released_ledger_opens_with_every_entry_it_had(released: Path) -> None:
    count, last = HEADS[released.stem]
    with reading(released) as book:
        assert head(book.connection) == (int(count), last)


def test_a_released_ledger_verifies_before_this_version_opened_it(released: Path) -> None:
    before = released.read_bytes()
    assert verify(released).findings == []
    assert released.read_bytes() == before


def test_a_released_ledger_verifies(released: Path) -> None:
    with reading(released):
        pass  # Opening brings it up to this version.
    assert verify(released).findings == []


def test_a_released_ledger_answers_and_takes_entries(
    released: Path, run_logbook: Callable, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LOGBOOK_LEDGER", str(released))
    due = run_logbook("due", "--as-of", "2026-03-06", "--json")
    assert due.code == 3
    assert {item["machine"] for item in due.json["items"]} >= {"bay1", "bay2", "bay3"}
    assert run_logbook("note", "still here").code == 0
