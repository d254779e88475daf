"""A check reads each oxygen cylinder of a machine, and says which it did not."""

import json
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from logbook.checklists import builtin, parse
from logbook.checklists.profile import each_cylinder
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
SECOND = "cylinder-pressure-2"
HOW = "logbook oxygen read bay1 --number NUMBER --cylinder PRESSURE"


def checked(bay1: Command, **told: Any) -> str:
    answers = {**BEFORE_CASE, **{key.replace("_", "-"): said for key, said in told.items()}}
    words = ("check", "bay1", "--list", "before-case", "--answers", "-", "--again")
    ran = bay1(*words, stdin=json.dumps(answers))
    assert ran.saved, ran.err
    return squeezed(ran.out)


def answer_of(bay1: Command, item: str) -> Any:
    """What the last check holds of an item."""
    body = bay1("history", "bay1", "--json").json["entries"][-1]["body"]
    return next(one for one in body["answers"] if one["item"] == item)


def holds(bay1: Command, *sizes: str) -> None:
    told = [word for size in sizes for word in ("--cylinder", size)]
    assert bay1("machine", "profile", "bay1", *told).saved


def test_a_check_reads_each_cylinder_and_what_it_read_counts_everywhere(bay1: Command) -> None:
    holds(bay1, "E", "E")
    assert "not read" not in checked(bay1, **{"cylinder-pressure-2": "1200 psi"})
    # By 0.28 L/psi above 200 psi: 364 and 280 L.
    left = bay1("oxygen", "left", "bay1", "--flow", "2L/min", "--json").json
    assert Decimal(left["usable_l"]) == 644
    assert "oxygen 1500 psi and 1200 psi" in squeezed(bay1("board").out)
    assert "cylinder 2 at 1200 psi" in squeezed(bay1("ready", "bay1").out)
    numbers = [answer_of(bay1, key)["number"] for key in ("cylinder-pressure", SECOND)]
    assert numbers == [1, 2]


def test_each_cylinder_starts_the_day_by_its_own_size(bay1: Command) -> None:
    holds(bay1, "H", "D")
    # By respiratory-care factors: H at 900 psi, 3.14 × 700 L; D at 1500 psi 208 L of 224 needed.
    for psi, state in (("1500", "failed"), ("1600", "passed")):
        answers = {key: {"state": "not done", "reason": "tried alone"} for key in _keys()}
        answers |= {"cylinder-pressure": {"value": "900psi"}, SECOND: {"value": f"{psi}psi"}}
        assert bay1("check", "bay1", "--answers", "-", stdin=json.dumps(answers)).code == 3
        assert answer_of(bay1, "cylinder-pressure")["state"] == "passed"
        assert answer_of(bay1, SECOND)["state"] == state


def _keys() -> list[str]:
    return [item.key for item in each_cylinder(builtin("daily"), 2).items]


def test_one_cylinder_is_read_again_or_corrected_by_itself(bay1: Command) -> None:
    holds(bay1, "E", "E")
    checked(bay1, **{SECOND: "300 psi"})
    redo = ("check", "bay1", "--list", "before-case", "--redo", SECOND, "--answers", "-")
    assert bay1(*redo, stdin=json.dumps({SECOND: "1300 psi"})).code == 0
    read = bay1("oxygen", "left", "bay1", "--flow", "2L/min").out
    assert "cylinder 2 at 1300 psi" in squeezed(read)
    line = (
        "correct",
        "last",
        "--item",
        "oxygen cylinder 2 pressure=1400 psi",
        "--because",
        "misread",
    )
    assert bay1(*line).saved
    assert "cylinder 2 at 1400 psi" in squeezed(bay1("ready", "bay1").out)


def test_a_cylinder_that_a_check_did_not_read_is_named_until_it_is_read_that_day(
    bay1: Command, clock: Callable[..., None]
) -> None:
    holds(bay1, "E", "E", "H")
    late = {"state": "not done", "reason": "late"}
    others = {SECOND: late, "cylinder-pressure-3": late}
    assert f"Cylinders 2 and 3 of bay1 were not read that day: {HOW}" in checked(bay1, **others)
    read = ("oxygen", "read", "bay1", "--cylinder", "1800psi", "--number")
    assert bay1(*read, "2").saved
    clock(NOW + timedelta(days=1))
    assert bay1(*read, "3").saved
    assert f"Cylinder 2 of bay1 was not read that day: {HOW}" in checked(bay1, **others)
    assert bay1(*read, "2").saved
    assert "not read" not in checked(bay1, **others)


def test_the_item_says_which_of_several_cylinders_it_means(
    bay1: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    holds(bay1, "H", "E")
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    walk = ("check", "bay1", "--list", "before-case")
    shown = squeezed(bay1(*walk, stdin="1500\n?\n").out)
    assert "Oxygen cylinder 2 pressure" in shown
    assert "Cylinder 2 of 2 (US size E) counts here." in shown


def test_a_list_that_asks_for_several_gauges_itself_stays_as_it_is() -> None:
    own = """
version = 1
name = "gauges"
title = "Gauges"
[[group]]
title = "Gauges"
"""
    item = """
[[group.item]]
key = "{key}"
title = "{title}"
kind = "number"
unit = "psi"
at_least = "cylinder-start"
reads = "{reads}"
stops = true
how = "Read it."
why = "It tells."
source = "our own"
confidence = "our own choice"
"""
    left = item.format(key="gauge", title="Left", reads="cylinder")
    right = item.format(key="right", title="Right", reads="cylinder")
    assert [one.title for one in each_cylinder(parse(own + left), 2).items] == ["Left", "Left 2"]
    for text in (own + left + right, own + left + right.replace('"right"', '"gauge-2"')):
        assert each_cylinder(parse(text), 2) == parse(text)
    taken = right.replace('"right"', '"gauge-2"').replace('"cylinder"', '"pipeline"')
    assert each_cylinder(parse(own + left + taken), 2) == parse(own + left + taken)
