"""Walking a check in a terminal: keys, numbers, a timed hold, why, not done, and stopping."""

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from logbook.checklists import Item, builtin, builtin_names
from tests.cli.terminals import PATIENCE_S, WALK, Command, Terminal, posix, squeezed, terminal

__all__ = ["terminal"]


@posix
def test_a_walk_takes_keys_numbers_and_a_timed_hold(
    terminal: Callable[..., Terminal], bay1: Command
) -> None:
    walk = terminal(*WALK)
    first = walk.read_to(" > ")
    heading = (
        "bay1: Short list. b goes back one item. "
        "Every answer is kept; Ctrl-C stops, to go on later."
    )
    assert heading in squeezed(first)
    assert "1/5 Hoses whole" in first
    assert "Look along them." in first
    assert "A hole lets room air in." not in first  # Why comes on request.
    why = walk.asks("?")
    assert "A hole lets room air in. Source: our own [set by the clinic]." in why
    for wrong in ("z", "y", "7", "passed it", "\u0667"):
        assert "is none of the keys" in walk.asks(wrong)
    assert walk.asks("").count("p passed") == 1  # Enter alone asks again.
    leak = walk.asks("P")
    assert "passed" in leak
    assert "2/5 Leak at pressure" in leak
    assert "Test pressure: 30 cmH2O." in leak
    for wrong in ("lots", "1e3", "\u0661\u0662\u0660", "nan", "-5", "120 kg", "120,5", "p"):
        refused = walk.asks(wrong)
        assert "number in mL/min, t time a hold" in refused
        assert "FAIL" not in refused
    bulb = walk.asks("240")
    assert "FAIL" in bulb
    assert "limit 200" in bulb
    assert "3/5 Bulb stays flat" in bulb
    walk.asks("t", "Enter starts the clock")
    walk.asks("", "Enter when it falls")
    time.sleep(1.2)
    colour = walk.asks("")
    assert "passed" in colour
    assert "is none of the choices; type a number from 1 to 2" in walk.asks("3")
    last = walk.asks("1")
    assert "fresh" in last
    walk.asks("n", "because > ")
    walk.asks("", "because > ")
    walk.asks("called away", "before anything else")
    assert walk.ends() == 3
    saved = bay1("history", "bay1", "--json").json["entries"][-1]["body"]
    assert {one["item"]: one["state"] for one in saved["answers"]} == {
        "hoses": "passed",
        "leak": "failed",
        "bulb": "passed",
        "colour": "passed",
        "pop-off-open": "not done",
    }
    by_item = {one["item"]: one for one in saved["answers"]}
    assert (by_item["leak"]["value"], by_item["leak"]["unit"]) == ("240", "mL/min")
    assert 1 <= by_item["bulb"]["held_s"] < PATIENCE_S
    assert by_item["pop-off-open"]["reason"] == "called away"


@posix
def test_b_goes_back_one_item_and_only_the_last_answer_is_saved(
    terminal: Callable[..., Terminal], bay1: Command
) -> None:
    walk = terminal(*WALK)
    walk.read_to(" > ")
    assert "1/5" in walk.asks("b")  # Before the first item there is none.
    walk.asks("p")
    assert "To do it again type b" in squeezed(walk.asks("240"))
    assert "2/5 Leak at pressure" in walk.asks("b")
    assert "type b" not in squeezed(walk.asks("150"))
    for key in ("5s", "1"):
        walk.asks(key)
    walk.asks("p", "Saved entry")
    assert walk.ends() == 0
    answers = bay1("history", "bay1", "--json").json["entries"][-1]["body"]["answers"]
    assert [one["value"] for one in answers if one["item"] == "leak"] == ["150"]


@posix
def test_the_last_value_is_shown_only_after_the_new_one(
    terminal: Callable[..., Terminal],
) -> None:
    for value, before in (("150", ""), ("0.12 L/min", " (last: 150 mL/min on 2026-03-06)")):
        walk = terminal(*WALK)
        walk.read_to(" > ")
        asked = walk.asks("p")
        assert "150" not in asked
        assert f"cmH2O, limit 200{before} 3/5" in " ".join(walk.asks(value).split())
        walk.asks("5s")
        walk.asks("1")
        walk.asks("p", "Saved entry")
        assert walk.ends() == 0


@posix
@pytest.mark.parametrize("key", [b"\x03", b"\x04"], ids=["Ctrl-C", "end of input"])
def test_a_walk_that_is_stopped_before_its_first_answer_leaves_the_file_as_it_was(
    terminal: Callable[..., Terminal], ledger: Path, key: bytes
) -> None:
    before = ledger.read_bytes()
    walk = terminal(*WALK)
    walk.read_to(" > ")
    assert walk.stops_by(key) == 1
    assert "Not done, nothing saved: stopped before the end." in walk.shown
    assert "Traceback" not in walk.shown
    assert ledger.read_bytes() == before
    assert not ledger.with_name(ledger.name + "-journal").exists()


@posix
def test_initials_are_asked_for_in_a_terminal(
    terminal: Callable[..., Terminal], bay1: Command
) -> None:
    note = terminal("note", "caster squeaks", "--on", "bay1", LOGBOOK_BY="")
    note.read_to("Your initials: ")
    note.asks("KO", "by KO.")
    assert note.ends() == 0
    stopped = terminal("note", "second thought", "--on", "bay1", LOGBOOK_BY="")
    stopped.read_to("Your initials: ")
    assert stopped.stops_by(b"\x03") == 1
    told = bay1("history", "bay1").out
    assert ("caster squeaks" in told, "second thought" in told) == (True, False)


@posix
def test_a_walk_is_refused_before_its_first_item(terminal: Callable[..., Terminal]) -> None:
    for more, words in (
        (("--by", "ZZ"), "nobody here signs as ZZ"),
        (("--at", "2026-03-07 08:00"), "lies in the future"),
        (("--at", "25:00"), "is not a time of the day"),
    ):
        walk = terminal(*WALK, *more)
        assert walk.ends() == 2
        assert words in " ".join(walk.shown.split())
        assert "Hoses" not in walk.shown


@posix
def test_without_a_command_a_terminal_shows_the_board(terminal: Callable[..., Terminal]) -> None:
    board = terminal()
    assert board.ends() == 3
    assert "Friday 2026-03-06" in board.shown
    assert "bay1: CANNOT TELL" in board.shown


def good_key(item: Item) -> str:
    """What is typed where nothing is wrong."""
    if item.fits in ("coaxial", "charcoal"):
        return "x"
    if item.kind == "choice":
        return str(item.choices.index(item.passing[0]) + 1)
    numbers = {"psi": "1500", "mL/min": "120", "h": "3", "g": "800", "cmH2O": "2"}
    if item.key == "pipeline-pressure":
        return "50"
    return {"tick": "p", "hold": "15", "number": numbers.get(item.unit or "", "")}[item.kind]


@pytest.mark.parametrize("name", builtin_names())
def test_every_list_of_the_program_can_be_walked_to_a_pass(
    bay1: Command, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    monkeypatch.setenv("COLUMNS", "40")
    keys = "".join(f"?\n{good_key(item)}\n" for item in builtin(name).items)
    ran = bay1("check", "bay1", "--list", name, stdin=keys)
    assert ran.code == 0, ran.out + ran.err
    for item in builtin(name).items:
        assert item.title in " ".join(ran.out.split())
        assert " ".join(item.why.split()) in " ".join(ran.out.split())
    assert f"{name} check passed" in " ".join(ran.out.split())
    prompts = [line for line in ran.out.splitlines() if " > " in line]
    assert all(len(line.partition(" > ")[0]) + 2 <= 40 for line in prompts), prompts


def test_an_item_that_cannot_be_left_out_is_asked_again(
    bay1: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    keys = "p\np\nx\nn\n \nn\npatient waiting\n"
    ran = bay1("check", "bay1", "--list", "oxygen-failure-alarm", stdin=keys)
    assert ran.code == 3, ran.err
    assert "item oxygen-back is part of every machine" in " ".join(ran.out.split())
    assert "needs a reason" in ran.out
    assert "oxygen-back not done (patient waiting)" in " ".join(ran.out.split())
