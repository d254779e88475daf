"""Walking a check in a terminal: keys, numbers, a timed hold, why, not done, and stopping."""

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from logbook.checklists import Item, builtin, builtin_names
from tests.cli.terminals import PATIENCE_S, WALK, Command, Terminal, posix, squeezed, terminal

__all__ = ["terminal"]
READ = "30 cmH2O on 2026-03-06)"


@posix
def test_a_walk_takes_keys_numbers_and_a_timed_hold(
    terminal: Callable[..., Terminal], bay1: Command
) -> None:
    walk = terminal(*WALK)
    first = walk.read_to(" > ")
    heading = (
        "bay1: Short list. - goes back one item. "
        "Every answer is kept; Ctrl-C stops, to go on later. A number pad is enough; "
        "the letters p f n x ? b t do the same as 1 2 3 4 0 - +."
    )
    assert heading in squeezed(first)
    assert "1/5 Hoses whole" in first
    assert "Look along them." in first
    assert "A hole lets room air in." not in first  # Why comes on request.
    why = walk.asks("?")
    assert "A hole lets room air in. Source: our own [set by the clinic]." in why
    for wrong in ("z", "y", "7", "/7", "+", "passed it", "\u0667"):
        assert "is none of the keys" in walk.asks(wrong)
    assert walk.asks("").count("1 passed") == 1  # Enter alone asks again.
    leak = walk.asks("P")
    assert "passed" in leak
    assert "2/5 Leak at pressure" in leak
    assert "Test pressure: 30 cmH2O." in leak
    for wrong in ("lots", "1e3", "\u0661\u0662\u0660", "nan", "-5", "120 kg", "120,5", "p"):
        refused = walk.asks(wrong)
        assert "+ time a hold, or number in mL/min" in refused
        assert "FAIL" not in refused
    assert "Pressure read, in cmH2O (Enter: not read) >" in squeezed(walk.asks("240"))
    assert "+ time a hold" in squeezed(walk.asks("-"))  # Back to the item, nothing is kept.
    walk.asks("240")
    assert "is not a breathing-system pressure" in squeezed(walk.asks("lots"))
    bulb = walk.asks("30")
    assert "FAIL: 240 mL/min at 30 cmH2O" in squeezed(bulb)
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
    walk.asks("n", "words) > ")
    walk.asks("", "words) > ")
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
    assert "To do it again type -" in squeezed(walk.asks("240 at 30"))
    assert "2/5 Leak at pressure" in walk.asks("b")
    assert "type -" not in squeezed(walk.asks("150 at 30"))
    for key in ("5s", "1"):
        walk.asks(key)
    walk.asks("p", "Saved entry")
    assert walk.ends() == 0
    answers = bay1("history", "bay1", "--json").json["entries"][-1]["body"]["answers"]
    assert [one["value"] for one in answers if one["item"] == "leak"] == ["150"]


@posix
def test_a_number_pad_is_enough_for_a_whole_walk(
    terminal: Callable[..., Terminal], bay1: Command
) -> None:
    walk = terminal(*WALK)
    assert "1 passed, 2 failed, 3 not done, 0 why >" in squeezed(walk.read_to(" > "))
    assert "A hole lets room air in." in walk.asks("0")
    walk.asks("2", "back) > ")  # What was seen may be left out.
    assert "2/5" in walk.asks("")
    assert "+ time a hold, or number in mL/min, /2 failed, /3 not done, /0 why >" in squeezed(
        walk.shown
    )
    assert "A leak wastes agent." in walk.asks("/0")
    assert "1/5" in walk.asks("-")
    walk.asks("1")
    walk.asks("240")
    assert "FAIL" in walk.asks("30")
    walk.asks("/3", "words) > ")
    assert "+ time it, or seconds" in squeezed(walk.asks("-"))  # Back from the reason, too.
    walk.asks("/3", "words) > ")
    assert "not done" in walk.asks("1")
    assert "1 fresh, 2 changed, /3 not done, /0 why >" in squeezed(walk.shown)
    assert "It tells exhaustion." in walk.asks("/0")
    walk.asks("2")
    walk.asks("1", "Saved entry")
    assert walk.ends() == 3
    answers = bay1("history", "bay1", "--json").json["entries"][-1]["body"]["answers"]
    assert [(one["state"], one.get("value"), one.get("reason")) for one in answers] == [
        ("passed", None, None),
        ("failed", "240", None),
        ("not done", None, "patient waiting"),
        ("failed", None, None),
        ("passed", None, None),
    ]


@posix
def test_the_last_value_is_shown_only_after_the_new_one(
    terminal: Callable[..., Terminal],
) -> None:
    for value, before in (("150", ""), ("0.12 L/min", f" (last: 150 mL/min at {READ}")):
        walk = terminal(*WALK)
        walk.read_to(" > ")
        asked = walk.asks("p")
        assert "150" not in asked
        assert f"cmH2O, limit 200{before} 3/5" in " ".join(walk.asks(f"{value} at 30").split())
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
    numbers = {"psi": "1500", "mL/min": "120 at 30", "h": "3", "g": "800", "cmH2O": "2"}
    if item.key in ("pipeline-pressure", "cylinder-side-leak"):
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
    keys = "p\np\nx\nx\nn\n \nn\npatient waiting\n"
    ran = bay1("check", "bay1", "--list", "oxygen-failure-alarm", stdin=keys)
    assert ran.code == 3, ran.err
    assert "item oxygen-back is part of every machine" in " ".join(ran.out.split())
    assert "needs a reason" in ran.out
    assert "oxygen-back not done (patient waiting)" in " ".join(ran.out.split())


def test_a_fall_is_timed_between_two_pressures_that_are_read(
    bay1: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    clock = iter(range(0, 1000, 12))
    monkeypatch.setattr("logbook.cli.walk.time.monotonic", lambda: next(clock))
    assert bay1("machine", "profile", "bay1", "--compliance", "3 mL/cmH2O").saved
    keys = [good_key(item) for item in builtin("before-case").items]
    at = next(n for n, item in enumerate(builtin("before-case").items) if item.or_hold)
    keys[at] = "+\n30\n\n\n26"
    ran = bay1("check", "bay1", "--list", "before-case", stdin="\n".join(keys) + "\n")
    assert ran.code == 0, ran.out + ran.err
    shown = squeezed(ran.out)
    assert "Timed for 10 s, 1 cmH2O is 18 mL/min, with the bag or without as when the" in shown
    assert "Read the gauge after 10 s or later, and press Enter" in shown
    assert "passed: 30 to 26 cmH2O in 12 s: at most 75 mL/min, limit 173.3 there" in shown
    body = bay1("history", "bay1", "--json").json["entries"][-1]["body"]
    found = next(one for one in body["answers"] if one["item"] == "breathing-system-leak")
    assert (found["pressure_cmh2o"], found["end_pressure_cmh2o"]) == ("30", "26")
    assert (found["leak_ml_min"], found["held_s"], found["timed"]) == ("75", 12, True)


def test_the_profile_says_whether_a_leak_is_timed_or_read_first(
    bay1: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    timed, read = "+ time a hold, or number in mL/min", "number in mL/min, + time a hold"
    for told, first in (
        ((), timed),  # Nobody told what the flowmeter shows: many begin above the limit.
        (("--flowmeter-least", "250mL/min"), timed),
        (("--flowmeter-least", "200mL/min"), read),
        (("--leak-test-first", "timed"), timed),
        (("--leak-test-first", "flow"), read),
    ):
        assert not told or bay1("machine", "profile", "bay1", *told).saved
        keys = [good_key(item) for item in builtin("before-case").items]
        ran = bay1("check", "bay1", "--list", "before-case", stdin="\n".join(keys) + "\n")
        assert first in squeezed(ran.out)


def test_a_reading_is_shown_as_a_gauge_shows_it_and_a_question_ends_as_one(
    bay1: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    keys = ("1", "1", "1", "4", "4", "125bar", "50", "124 bar")
    shown = squeezed(bay1("check", "bay1", stdin="\n".join(keys)).out)
    assert "125bar is more than any pipeline has; did you mean the cylinder? number" in shown
    assert "passed: 1798 psi, at least 1000" in shown
