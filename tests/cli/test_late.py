"""What was written down late says so wherever it stands: saved, due, ready and on the board."""

import json
import re
import shlex
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.cli.terminals import Command, squeezed
from tests.cli.test_several_cylinders import BEFORE_CASE

SEVEN = datetime(2026, 3, 6, 14, 0, tzinfo=UTC)
"""07:00 at the clinic."""
ON_THE_LIMIT, BEYOND = timedelta(hours=2), timedelta(hours=2, seconds=1)


@pytest.mark.parametrize(
    ("line", "item"),
    [
        ("absorbent change bay1", "absorbent"),
        ("charcoal change bay1 --weight 200g", "charcoal"),
        ("service done bay1 service --outcome passed --at 7:00", "service"),
        ("service done bay1 service --outcome failed --at 7:00", "service"),
    ],
)
def test_what_is_due_says_how_late_its_record_was(
    bay1: Command, clock: Callable[..., None], line: str, item: str
) -> None:
    clock(SEVEN)
    assert bay1("service", "plan", "bay1", "service", "--every", "P12M").saved
    for took, late in ((ON_THE_LIMIT, False), (BEYOND, True)):
        clock(SEVEN + took)
        at = () if "--at" in line else ("--at", "7:00")
        saved = bay1(*line.split(), *at, "--again")
        assert ("by KO, recorded 2 h afterwards." in squeezed(saved.out)) is late, saved.out
        rows = [one for one in bay1("due", "--all", "--json").json["items"] if one["item"] == item]
        told = {one["recorded_late_s"] for one in rows if one["recorded_late_s"] is not None}
        assert told == ({7201} if late else set())
        for answer in (("due", "--all"), ("ready", "bay1")):
            assert ("recorded 2 h afterwards" in squeezed(bay1(*answer).out)) is late


@pytest.mark.parametrize(
    ("line", "told", "answers"),
    [
        ("oxygen read bay1 --cylinder 1500psi", "1500 psi, ", ["ready bay1", "board"]),
        (
            "oxygen read bay1 --cylinder 900psi",
            "cylinder 900 psi, ",
            ["oxygen left bay1 --flow 2L/min"],
        ),
        ("oxygen change bay1 --size E --cylinder 1900psi", "1900 psi, ", ["ready bay1", "board"]),
        ("oxygen read bay1 --pipeline 50psi", "pipeline 50 psi today, ", ["ready bay1"]),
        ("agent level iso1 200ml", "200 mL on 2026-03-06, ", ["ready bay1", "vaporizer show iso1"]),
    ],
)
def test_a_gauge_or_glass_says_how_late_it_was_written_down(
    bay1: Command, clock: Callable[..., None], line: str, told: str, answers: list[str]
) -> None:
    clock(SEVEN)
    assert bay1("machine", "profile", "bay1", "--cylinder", "E").saved
    for took, late in ((ON_THE_LIMIT, False), (BEYOND, True)):
        clock(SEVEN + took)
        assert bay1(*line.split(), "--at", "7:00", "--again").saved
        for answer in answers:
            found = squeezed(bay1(*answer.split()).out)
            assert (re.search(f"{told}.*recorded 2 h afterwards", found) is not None) is late, found


def test_the_pop_off_valve_says_how_late_it_was_written_down(
    bay1: Command, clock: Callable[..., None]
) -> None:
    clock(SEVEN + BEYOND)
    begun = bay1("case", "begin", "bay1", "--pop-off", "open", "--at", "7:00")
    assert begun.saved
    seq = begun.out.partition("Saved entry ")[2].split(":")[0]
    found = squeezed(bay1("ready", "bay1").out)
    assert f"07:00 (entry {seq}, recorded 2 h afterwards); look again now" in found


@pytest.mark.parametrize(
    ("more", "rows"), [((), "faults"), (("--out-of-service",), "out_of_service")]
)
def test_a_fault_says_how_late_it_was_reported(
    bay1: Command, clock: Callable[..., None], more: tuple[str, ...], rows: str
) -> None:
    clock(SEVEN + BEYOND)
    assert bay1("fault", "report", "bay1", "leak", "--at", "7:00", *more).saved
    for answer in ("due", "ready bay1", "fault list", *(["board"] if more else [])):
        assert "recorded 2 h afterwards" in squeezed(bay1(*answer.split()).out), answer
    assert [one["recorded_late_s"] for one in bay1("due", "--json").json[rows]] == [7201]
    assert bay1("fault", "report", "bay1", "leak", "--at", "7:00:01", *more).saved
    assert [one["recorded_late_s"] for one in bay1("due", "--json").json[rows]] == [7201, None]


def test_a_case_that_is_logged_when_it_has_ended_is_not_late_however_long_it_ran(
    bay1: Command, clock: Callable[..., None]
) -> None:
    said = ("case", "log", "bay1", "--began", "7:00", "--ran", "3h")
    for took, late in ((ON_THE_LIMIT, False), (BEYOND, True)):
        clock(SEVEN + timedelta(hours=3) + took)
        saved = bay1(*said)
        seq = saved.out.partition("Saved entry ")[2].split(":")[0]
        day = ("--from", "2026-03-06", "--to", "2026-03-06", "--json")
        found = [one["finding"] for one in bay1("audit", *day).json["findings"]]
        assert ("recorded late" in found) is late
        answers = [saved, bay1("case", "list"), bay1("history", "bay1")]
        assert ["recorded 2 h afterwards" in squeezed(one.out) for one in answers] == [late] * 3
        assert bay1("correct", seq, "--withdraw", "--because", "slip").saved


def test_the_hours_after_which_it_counts_as_late_are_a_limit(
    bay1: Command, clock: Callable[..., None]
) -> None:
    clock(SEVEN)
    assert bay1("rule", "set", "late-hours", "3", "--because", "far wards").saved
    clock(SEVEN + timedelta(hours=3))
    assert "afterwards" not in bay1("absorbent", "change", "bay1", "--at", "7:00").out
    clock(SEVEN + timedelta(hours=3, seconds=1))
    late: Any = bay1("absorbent", "change", "bay1", "--at", "7:00", "--again")
    assert "recorded 3 h afterwards" in squeezed(late.out)


@pytest.mark.parametrize(
    "line",
    [
        "oxygen read bay1 --cylinder 1500psi --pipeline 50psi",
        "oxygen change bay1 --size E --cylinder 1900psi",
        "absorbent change bay1",
        "charcoal weigh bay1 210g",
        "charcoal change bay1 --weight 200g",
        "agent fill iso1 --added 50ml",
        "agent level iso1 200ml",
        "vaporizer verify iso1 --output 2 2.1",
        "fault report bay1 leak",
        "service done bay1 service --outcome failed",
        "note 'the valve sticks' --on bay1",
        "case log bay1 --ran 1h",
        "check bay1 --list before-case --answers -",
    ],
)
def test_what_is_written_down_after_a_machine_was_retired_is_recorded(
    bay1: Command, clock: Callable[..., None], line: str
) -> None:
    clock(SEVEN + timedelta(hours=5))
    assert bay1("machine", "retire", "bay1", "--because", "sold", "--at", "11:00").saved
    at = "--began" if line.startswith("case") else "--at"
    ran = bay1(*shlex.split(line), at, "7:00", stdin=json.dumps(BEFORE_CASE))
    assert ran.saved, ran.err
    assert " afterwards" in squeezed(ran.out)
