"""``due --since-last``: what became worse is told once, and told again when it became due anew."""

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.conftest import NOW, Ran

Command = Callable[..., Ran]
Clock = Callable[[datetime], None]
DAY = timedelta(days=1)


@pytest.fixture
def asked(bay1: Command) -> Command:
    """A clinic whose lines were all told on Friday."""
    assert bay1("absorbent", "change", "bay1", "--at", "2026-03-02 07:30").saved
    first = bay1("due", "--since-last")
    assert first.code == 3
    assert first.out.startswith("Asked here for the first time; all that stands:\nbay1\n")
    return bay1


def lines(ran: Ran) -> list[str]:
    """What is told, without heading and foot."""
    return [line for line in ran.out.splitlines() if line.startswith("  ") and ":" in line[:16]]


def test_the_first_time_tells_all_that_stands(bay1: Command) -> None:
    told = {
        (one["unit"], one["item"], one["clock"])
        for one in bay1("due", "--json").json["items"]
        if one["standing"] != "ok"
    }
    first = bay1("due", "--since-last", "--json")
    assert {(one["unit"], one["item"], one["clock"]) for one in first.json["items"]} == told
    assert (first.code, first.json["since"]) == (3, None)


def test_nothing_is_printed_where_nothing_became_worse(asked: Command) -> None:
    assert asked("due", "--since-last") == Ran(0, "", "")
    again = asked("due", "--since-last", "--json")
    assert (again.code, again.json["items"], again.json["since"]) == (0, [], "2026-03-06T23:00:00Z")


def test_each_step_to_the_worse_is_told_once(asked: Command, clock: Clock) -> None:
    seen = []
    for days in range(3, 13):
        clock(NOW + days * DAY)
        ran = asked("due", "--since-last")
        seen += [(days, line.split(",")[0].strip()) for line in lines(ran) if "absorbent" in line]
        assert ran.code == (3 if ran.out else 0)
    # Changed on 2 March with 14 days: due soon from the 9th, due on the 16th, overdue after it.
    assert seen == [(3, "DUE SOON: absorbent"), (10, "DUE: absorbent"), (11, "OVERDUE: absorbent")]


def test_the_heading_tells_since_when(asked: Command, clock: Clock) -> None:
    clock(NOW + 3 * DAY)
    assert asked("due", "--since-last").out.startswith("Worse since 2026-03-06 16:00:\n")


def test_what_fell_due_anew_after_a_change_is_told_anew(asked: Command, clock: Clock) -> None:
    clock(NOW + 10 * DAY)
    assert "DUE: absorbent" in asked("due", "--since-last").out
    clock(NOW + 11 * DAY)
    assert asked("absorbent", "change", "bay1").saved
    # Nobody asked while the new charge was in order: it is due again when somebody does.
    clock(NOW + 25 * DAY)
    assert "DUE: absorbent" in asked("due", "--since-last").out


def test_what_is_better_is_told_when_it_becomes_worse_again(asked: Command) -> None:
    assert "service" in asked("due").out
    assert asked("service", "plan", "bay1", "service", "--every", "P6M", "--last", "today").saved
    assert asked("due", "--since-last") == Ran(0, "", "")
    plan = ("service", "plan", "bay1", "service", "--every", "P6M", "--last", "2025-01-01")
    assert asked(*plan).saved
    assert "OVERDUE: service" in asked("due", "--since-last").out


def test_a_fault_is_told_once(asked: Command) -> None:
    assert asked("fault", "report", "iso1", "tipped").saved
    ran = asked("due", "--since-last")
    assert (ran.code, "OUT OF SERVICE: iso1" in ran.out) == (3, True)
    assert asked("due", "--since-last") == Ran(0, "", "")
    assert asked("fault", "report", "bay1", "leak").saved
    assert "OPEN FAULT: bay1 leak" in asked("due", "--since-last").out


@pytest.mark.parametrize(
    "text", ["", "null", "[]", '{"at": 1}', '{"at": "x", "clocks": 3}', "{" * 9]
)
def test_what_lies_there_and_is_not_ours_counts_as_nothing(
    asked: Command, own_folder: Path, text: str
) -> None:
    [kept] = (own_folder / "told").iterdir()
    kept.write_text(text)
    assert "Asked here for the first time" in asked("due", "--since-last").out


def test_where_nothing_can_be_kept_it_is_told_again(bay1: Command, own_folder: Path) -> None:
    own_folder.mkdir(parents=True, exist_ok=True)
    (own_folder / "told").write_text("a file where the folder would be")
    for _ in range(2):
        ran = bay1("due", "--since-last")
        assert (ran.code, "this will be told again." in ran.err) == (3, True)
        assert "Asked here for the first time" in ran.out


@pytest.mark.parametrize("more", ["--week", "--all", "--as-of=today", "--as-known-on=today"])
def test_it_asks_about_now_alone(asked: Command, more: str) -> None:
    ran = asked("due", "--since-last", more)
    assert ran.code == 2
    assert "--since-last asks about now" in ran.err


def test_the_ledger_is_not_written_to(asked: Command, ledger: Path) -> None:
    before = ledger.read_bytes()
    asked("due", "--since-last")
    assert ledger.read_bytes() == before
