"""A case that ran so long that its end may be forgotten is asked about before it is saved."""

from pathlib import Path

import pytest

from logbook.answers.long_cases import ENOUGH
from tests.cli.terminals import Command, squeezed, terminal

__all__ = ["terminal"]
LONG = ("case", "log", "bay1", "--began", "2026-03-05 8:10", "--ran")


@pytest.fixture
def at_desk(monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody sits there to be asked."""
    monkeypatch.setattr("logbook.cli.so_long.has_terminal", lambda: True)


@pytest.mark.usefixtures("at_desk")
def test_a_case_beyond_the_limit_is_asked_about_and_no_saves_nothing(
    bay1: Command, ledger: Path
) -> None:
    before = ledger.read_bytes()
    ran = bay1(*LONG, "6h1min", stdin="maybe\n2\n")
    assert ran.code == 2
    assert "Did the case on bay1 really run 6 h 1 min?" in squeezed(ran.out)
    assert squeezed(ran.err) == (
        "Not done, nothing saved: the case on bay1 did not run 6 h 1 min; tell when it ended, "
        "or --ran 1h10."
    )
    assert ledger.read_bytes() == before
    assert bay1(*LONG, "6h1min", stdin="1\n").saved
    assert "6 h 1 min" in bay1("case", "list").out


@pytest.mark.usefixtures("at_desk")
def test_a_case_at_the_limit_is_saved_without_a_question(bay1: Command) -> None:
    ran = bay1(*LONG, "6h")
    assert ran.saved
    assert "really" not in ran.out


@pytest.mark.usefixtures("at_desk")
def test_a_case_beyond_three_times_the_usual_is_asked_about(bay1: Command) -> None:
    for day in range(ENOUGH):
        began = f"2026-03-0{day % 2 + 1} {8 + day}:00"
        assert bay1("case", "log", "bay1", "--began", began, "--ran", "30min").saved
    assert "really" not in bay1(*LONG, "90min").out
    later = ("case", "log", "bay1", "--began", "2026-03-05 12:00", "--ran", "91min")
    ran = bay1(*later, stdin="n\n")
    assert "really run 1 h 31 min (usual there: 30 min)?" in squeezed(ran.out)
    assert ran.code == 2


@pytest.mark.usefixtures("at_desk")
def test_a_forgotten_end_is_asked_about_and_told_with_its_length(bay1: Command) -> None:
    assert bay1("case", "begin", "bay1", "--at", "2026-03-05 17:00", "--pop-off", "open").saved
    assert "really run 23 h?" in bay1("case", "end", "bay1", stdin="no\n").out
    ran = bay1("case", "end", "bay1", "--ran", "1h10")
    assert "really" not in ran.out
    assert "bay1 ran 1 h 10 min." in ran.out
    assert bay1("case", "end", "bay1").code == 2


@pytest.mark.usefixtures("at_desk")
@pytest.mark.parametrize("ran", ["25h", "23h59"])
def test_what_will_be_refused_is_not_asked_about(bay1: Command, ran: str) -> None:
    line = ("case", "log", "bay1", "--began", "2026-03-05 17:30", "--ran", ran)
    assert bay1(*line).code == 2
    assert "really" not in bay1(*line).out


@pytest.mark.parametrize("key", [b"\x03", b"\x04"], ids=["Ctrl-C", "Ctrl-D"])
def test_whoever_stops_at_the_question_saves_nothing(terminal, ledger: Path, key: bytes) -> None:
    before = ledger.read_bytes()
    asked = terminal(*LONG, "15h")
    asked.read_to("2 no > ")
    assert asked.stops_by(key) == 1
    assert "Not done, nothing saved: stopped before the end." in asked.shown
    assert ledger.read_bytes() == before


def test_without_a_terminal_a_long_case_is_saved_and_flagged(bay1: Command) -> None:
    ran = bay1(*LONG, "15h")
    assert ran.code == 3
    assert squeezed(ran.out).count("15 h: if its end was forgotten, correct it") == 1
    assert "RAN LONG" not in ran.out  # It is told once, with how to correct it.
    flagged = "flagged: ran long: bay1, 15 h, more than 6 h: its end may be forgotten"
    assert flagged in squeezed(bay1("case", "list").out)
    assert "CASE RAN LONG: 1" in bay1("audit", "--from", "2026-03-05").out
    assert bay1("correct", "last", "--ran", "6h", "--because", "forgot its end").saved
    assert "ran long" not in bay1("case", "list").out
