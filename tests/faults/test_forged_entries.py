"""Entries appended by hand with a right hash: what counts of them, and who is told."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from logbook.proof.verify import verify
from tests.conftest import Ran
from tests.faults.forger import forge

AT = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)


def withdrawal(seq: int) -> dict[str, Any]:
    return {"corrects": seq, "reason": "forged", "withdrawn": True}


@pytest.mark.parametrize("of", ["itself", "what comes later", "the clinic", "a person"])
def test_a_correction_of_what_cannot_be_corrected_counts_for_nothing_and_is_found(
    of: str, bay1: Callable[..., Ran], ledger: Path
) -> None:
    head = bay1("history", "bay1", "--json").json["checkpoint"]["entries"]
    corrects = {"itself": head + 1, "what comes later": head + 2, "the clinic": 1, "a person": 2}
    forged = forge(ledger, "correction", AT, withdrawal(corrects[of]))
    assert bay1("rebuild").code == 0
    assert bay1("note", "the bag is new", "--on", "bay1", "--by", "KO").code == 0
    assert bay1("rebuild").code == 0
    told = bay1("history", "bay1", "--json").json["entries"]
    assert [line["state"] for line in told if line["entry"] == head + 2] == ["as written"]
    assert [one.entry for one in verify(ledger).findings] == [forged]
    ran = bay1("verify")
    assert ran.code == 4
    assert f"entry {forged} corrects entry {corrects[of]}" in ran.out
