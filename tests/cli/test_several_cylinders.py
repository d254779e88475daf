"""A check reads one oxygen cylinder of a machine, and says so where there are more."""

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from tests.cli.terminals import Command, squeezed
from tests.conftest import NOW

BEFORE_CASE: dict[str, Any] = {
    "cylinder-pressure": "1500 psi",
    "vaporizer-level": "passed",
    "one-way-valves": "passed",
    "bag-and-hoses": "passed",
    "inner-tube": "not fitted",
    "absorbent-colour": "fresh",
    "breathing-system-leak": "150 mL/min at 30 cmH2O",
    "monitors": "passed",
    "pop-off-open": "passed",
}
HOW = "logbook oxygen read bay1 --number NUMBER --cylinder PRESSURE"


def checked(bay1: Command, **told: Any) -> str:
    answers = {**BEFORE_CASE, **{key.replace("_", "-"): said for key, said in told.items()}}
    words = ("check", "bay1", "--list", "before-case", "--answers", "-", "--again")
    ran = bay1(*words, stdin=json.dumps(answers))
    assert ran.saved, ran.err
    return squeezed(ran.out)


def holds(bay1: Command, *sizes: str) -> None:
    told = [word for size in sizes for word in ("--cylinder", size)]
    assert bay1("machine", "profile", "bay1", *told).saved


def test_the_cylinders_that_a_check_does_not_read_are_named_until_they_are_read_that_day(
    bay1: Command, clock: Callable[..., None]
) -> None:
    assert "cylinder 1" not in checked(bay1)
    holds(bay1, "E")
    assert "cylinder 1" not in checked(bay1)
    holds(bay1, "E", "E", "H")
    alone = "The check reads cylinder 1 of bay1 alone; "
    assert f"{alone}cylinders 2 and 3 were not read that day: {HOW}" in checked(bay1)
    read = ("oxygen", "read", "bay1", "--cylinder", "1800psi", "--number")
    assert bay1(*read, "2").saved
    clock(NOW + timedelta(days=1))
    assert bay1(*read, "3").saved
    assert f"{alone}cylinder 2 was not read that day: {HOW}" in checked(bay1)
    assert bay1(*read, "2").saved
    assert alone not in checked(bay1)
    assert alone not in checked(bay1, cylinder_pressure={"state": "not done", "reason": "late"})


def test_the_item_says_which_of_several_cylinders_it_means(
    bay1: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    holds(bay1, "H", "E")
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    shown = bay1("check", "bay1", "--list", "before-case", stdin="?\n").out
    assert "Cylinder 1 of 2 (US size H) counts here." in squeezed(shown)
