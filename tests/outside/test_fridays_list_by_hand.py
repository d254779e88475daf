"""The demo's list of what is due, against a count that shares no code with the program."""

import json
import os
import shutil
import subprocess
import sys
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.outside.fridays_list import Clinic, Key, Line, friday_list, months_later

SAMPLE = Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the installed program says is due in the demo's clinic."""
    home = tmp_path_factory.mktemp("home")
    program = shutil.which("logbook", path=str(Path(sys.executable).parent))
    assert program is not None
    world = {name: value for name, value in os.environ.items() if not name.startswith("LOGBOOK_")}
    world |= {"HOME": str(home), "XDG_CONFIG_HOME": str(home), "APPDATA": str(home)}
    made = subprocess.run([program, "demo", home], capture_output=True, env=world, check=False)
    assert made.returncode == 0, made.stderr
    ask = [program, "--ledger", home / "demo.ledger", "due", "--as-of", "2026-03-06", "--json"]
    asked = subprocess.run(ask, capture_output=True, env=world, check=False)
    assert asked.returncode == 3, asked.stderr
    answer: dict[str, Any] = json.loads(asked.stdout)
    return answer


@pytest.fixture(scope="module")
def counted() -> dict[Key, Line]:
    """The same list, counted from the files."""
    return friday_list(SAMPLE)


def as_line(item: dict[str, Any]) -> Line:
    number = {name: item[name] and Fraction(item[name]) for name in ("used", "limit")}
    due_on = item["due_on"] and date.fromisoformat(item["due_on"])
    return Line(number["used"], number["limit"], item["standing"], due_on)


def test_the_program_and_the_count_name_the_same_lines_and_no_others(
    told: dict[str, Any], counted: dict[Key, Line]
) -> None:
    keys = [Key(*(item[field] for field in Key._fields)) for item in told["items"]]
    assert len(keys) == len(set(keys))
    assert set(keys) - counted.keys() == set()
    assert counted.keys() - set(keys) == set()


def test_every_line_says_what_was_counted(told: dict[str, Any], counted: dict[Key, Line]) -> None:
    for item in told["items"]:
        key = Key(*(item[field] for field in Key._fields))
        assert (key, as_line(item)) == (key, counted[key])


def test_the_sample_holds_something_of_every_clock_and_every_standing(
    counted: dict[Key, Line],
) -> None:
    assert {key.clock for key in counted} == {
        "hours in use",
        "days since the change",
        "carbon dioxide",
        "seen at a check",
        "weight gained",
        "days since the check",
        "calendar",
    }
    assert {line.standing for line in counted.values()} == {
        "overdue",
        "due",
        "no record",
        "due soon",
        "ok",
    }


def test_the_sample_has_what_the_count_must_not_stumble_over() -> None:
    clinic = Clinic(SAMPLE)
    kinds = {event["kind"] for event in clinic.events}
    assert {"correction", "return_to_service", "case_begin", "vaporizer_removal"} <= kinds
    assert {"adult", "pediatric", "non-rebreathing", "unknown"} <= {
        case.circuit for case in clinic.cases
    }
    assert any(case.vaporizer for case in clinic.cases)
    assert any(case.weight_kg is None for case in clinic.cases)
    assert clinic.cases != sorted(clinic.cases, key=lambda case: case.began)


def test_a_month_without_the_day_ends_early() -> None:
    assert months_later(date(2025, 8, 31), 6) == date(2026, 2, 28)
    assert months_later(date(2026, 2, 28), 1) == date(2026, 3, 28)
    assert months_later(date(2023, 12, 31), 2) == date(2024, 2, 29)
