"""The long ledger of the benchmarks, in small: plausible, whole, and the same for the same seed."""

from collections import Counter
from pathlib import Path

import pytest

from logbook.entries import KINDS
from logbook.ledger.store import head, stored_rows
from logbook.proof.verify import verify
from logbook.recording.opening import reading
from tests.benchmarks.make_ledger import make

NEVER = {"checklist", "machine_retirement", "restore", "vaporizer_removal"}
"""Kinds that no ordinary year of a clinic needs."""


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("made") / "small.ledger"
    make(path, machines=3, weeks=12)
    return path


def test_a_made_ledger_verifies(small: Path) -> None:
    assert verify(small).findings == []


def test_a_made_ledger_ends_with_2025_and_has_fifty_entries_a_machine_and_week(
    small: Path,
) -> None:
    with reading(small) as book:
        rows = list(stored_rows(book.connection))
        assert head(book.connection)[0] == len(rows)
    assert 40 * 3 * 12 < len(rows) < 60 * 3 * 12
    assert rows[-1].happened_local.startswith("2025-12-31")
    kinds = Counter(row.kind for row in rows)
    rare = {"service", "machine_change", "rule_change", "return_to_service", "fault"}
    rare |= {"output_verification", "fault_close"}
    assert kinds.keys() >= KINDS.keys() - NEVER - rare
    assert kinds["case"] > kinds["case_begin"] == kinds["case_end"] > kinds["check"] / 3


def test_the_same_seed_makes_the_same_entries(small: Path, tmp_path: Path) -> None:
    make(tmp_path / "again.ledger", machines=3, weeks=12)
    told = []
    for path in (small, tmp_path / "again.ledger"):
        with reading(path) as book:
            rows = stored_rows(book.connection)
            told.append([(row.kind, row.body, row.happened_at) for row in rows])
    assert told[0] == told[1]
