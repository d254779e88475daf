"""The demo's audit, against a list that shares no code with the program."""

import json
import os
import shutil
import subprocess
import sys
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.outside.audit_by_hand import TAKEN_AT_ONCE, Found, audit_list

SAMPLE = Path(__file__).parents[2] / "sample_data"
FIRST, LAST = "2026-01-12", "2026-03-06"


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the installed program finds in the demo's eight weeks, in one line of typing."""
    home = tmp_path_factory.mktemp("home")
    program = shutil.which("logbook", path=str(Path(sys.executable).parent))
    assert program is not None
    world = {name: value for name, value in os.environ.items() if not name.startswith("LOGBOOK_")}
    world |= {"HOME": str(home), "XDG_CONFIG_HOME": str(home), "APPDATA": str(home)}
    made = subprocess.run([program, "demo", home], capture_output=True, env=world, check=False)
    assert made.returncode == 0, made.stderr
    ask = [program, "--ledger", home / "demo.ledger", "audit", "--from", FIRST, "--to", LAST]
    asked = subprocess.run([*ask, "--json"], capture_output=True, env=world, check=False)
    assert asked.returncode == 3, asked.stderr
    answer: dict[str, Any] = json.loads(asked.stdout)
    return answer


def test_the_audit_finds_what_was_counted_and_nothing_else(told: dict[str, Any]) -> None:
    found = Counter(
        Found(
            one["finding"], one["machine"], one["unit"], date.fromisoformat(one["day"]),
            tuple(one["by"]),
        )
        for one in told["findings"]
        if one["finding"] not in TAKEN_AT_ONCE
    )  # fmt: skip
    assert found == audit_list(SAMPLE)


def test_the_totals_count_the_findings(told: dict[str, Any]) -> None:
    counts = Counter(one["finding"] for one in told["findings"])
    assert {one["finding"]: one["count"] for one in told["totals"]} == counts


def test_the_audit_answers_who_changed_what_late(told: dict[str, Any]) -> None:
    late = [one for one in told["findings"] if one["finding"] == "change late"]
    february = [one for one in late if one["day"].startswith("2026-02") and one["unit"] == "bay2"]
    assert [(one["day"], one["by"]) for one in february] == [
        ("2026-02-05", ["JM"]), ("2026-02-11", ["KO"]), ("2026-02-25", ["KO"])
    ]  # fmt: skip
    # Counted from the cases of the file between 2026-01-29 07:11 and 2026-02-05 07:11.
    assert "9.27 of 8 h" in february[0]["words"]
