"""What a machine is and has: told once by options or question by question, and kept."""

from collections.abc import Callable

import pytest

from logbook.checklists.profile import Profile
from logbook.cli.profile import QUESTIONS
from logbook.entries.machine import Machine
from logbook.sheets.profile_text import PARTS
from tests.cli.terminals import Command, Terminal, posix, squeezed, terminal

__all__ = ["terminal"]

TOLD = (
    "--pipeline", "yes", "--cylinder", "E", "--cylinder", "4.7 L", "--relief-valve", "60cmH2O",
    "--suction-bulb", "no", "--circuit", "adult", "--circuit", "bain", "--compliance",
    "100mL/40cmH2O", "--absorbent-kind", "soda-lime", "--absorbent-mass", "2lb", "--vaporizers",
    "2",
)  # fmt: skip


def bay(bay1: Command, *more: str) -> dict[str, object]:
    found: dict[str, object] = bay1("machine", "show", "bay1", *more, "--json").json["machine"]
    return found


def test_each_option_is_kept_and_what_is_not_named_stays(bay1: Command) -> None:
    assert bay1("machine", "profile", "bay1", *TOLD, "--by", "KO").code == 0
    later = bay1("machine", "profile", "bay1", "--pipeline", "no", "--by", "KO")
    assert "machine bay1 changed, has no pipeline, profile told" in later.out
    found = bay(bay1)
    told = {
        "pipeline": False, "cylinders": ["E", "4.7L"], "relief_valve": True,
        "relief_valve_cmh2o": "60", "suction_bulb": False, "compliance_ml_cmh2o": "2.5",
        "circuits": ["adult rebreathing", "non-rebreathing"], "absorbent_kind": "soda-lime",
        "absorbent_g": "907.18474", "vaporizer_places": 2,
    }  # fmt: skip
    assert {name: found[name] for name in told} == told
    untold = {name for name in Profile.__slots__ if name not in told}
    assert {name for name in untold if found[name] is not None} == {"serial"}


def test_none_of_them_is_told_in_one_word(bay1: Command) -> None:
    bay1("machine", "profile", "bay1", *TOLD, "--by", "KO")
    said = ("--cylinder", "no", "--circuit", "none", "--relief-valve", "no")
    assert bay1("machine", "profile", "bay1", *said, "--by", "KO").code == 0
    found = bay(bay1)
    assert (found["cylinders"], found["circuits"], found["relief_valve"]) == ([], [], False)
    shown = bay1("machine", "show", "bay1").out.splitlines()
    assert "oxygen cylinders: none" in shown
    assert "has no: suction bulb, safety relief valve" in shown


def test_a_profile_is_asked_as_it_stood(bay1: Command) -> None:
    said = ("machine", "profile", "bay1", "--by", "KO")
    assert bay1(*said, "--ventilator", "yes", "--at", "2026-03-02 08:00").code == 0
    assert bay1(*said, "--ventilator", "no", "--at", "2026-03-04 08:00").code == 0
    days = {day: bay(bay1, "--as-of", f"2026-03-0{day}")["ventilator"] for day in range(1, 5)}
    assert days == {1: None, 2: True, 3: True, 4: False}


def test_without_a_terminal_and_an_option_it_says_what_there_is(bay1: Command) -> None:
    done = bay1("machine", "profile", "bay1", "--by", "KO")
    assert done.code == 2
    assert "there is no terminal to ask in; give one or more of --pipeline" in done.err
    assert "bay1 changed" not in bay1("history", "bay1").out


def test_each_field_is_asked_kept_and_worded() -> None:
    asked = {one.field for one in QUESTIONS}
    with_the_valve = {"serial", "location", "relief_valve_cmh2o"}
    assert set(Profile.__slots__) == asked | with_the_valve
    assert set(Machine.model_fields) == set(Profile.__slots__) | {"machine", "door"}
    flags = {name for name, kind in Profile.__annotations__.items() if kind == bool | None}
    assert set(PARTS) == flags


@posix
def test_a_terminal_asks_each_question_and_enter_leaves_it(
    terminal: Callable[..., Terminal], bay1: Command
) -> None:
    bay1("machine", "profile", "bay1", "--suction", "yes", "--cylinder", "E", "--by", "KO")
    walk = terminal("machine", "profile", "bay1", "--by", "KO")
    first = walk.read_to(" > ")
    assert "Does a pipeline or a concentrator feed it? (yes, no) [not told]" in squeezed(first)
    assert "is not one of 'yes', 'no'" in walk.asks("perhaps")
    assert "[E]" in walk.asks("no")
    answers = {"vaporizers can stand": "1", "Circuits used": "nrb", "relief valve": "60 cmH2O"}
    seen = []
    while "waste gas" not in (asked := squeezed(walk.asks(""))):
        seen.append(asked)
        while answer := next((said for key, said in answers.items() if key in asked), None):
            asked = squeezed(walk.asks(answer))
            seen.append(asked)
    assert walk.asks("active", "profile told")
    assert walk.ends() == 0
    found = bay(bay1)
    assert (found["pipeline"], found["cylinders"], found["suction"]) == (False, ["E"], True)
    assert (found["vaporizer_places"], found["relief_valve_cmh2o"]) == (1, "60")
    assert (found["circuits"], found["scavenging"]) == (["non-rebreathing"], "active")
    # What makes no sense after these answers was not asked.
    assert not [one for one in seen if "interlock" in one or "absorbent" in one.lower()]


@posix
def test_a_profile_of_which_nothing_changes_is_not_saved(
    terminal: Callable[..., Terminal], bay1: Command
) -> None:
    before = bay1("history", "bay1", "--json").json["entries"]
    walk = terminal("machine", "profile", "bay1", "--by", "KO")
    walk.read_to(" > ")
    while "waste gas" not in walk.asks(""):
        pass
    assert "Nothing changed, nothing saved." in walk.asks("", "saved.")
    assert walk.ends() == 0
    assert bay1("history", "bay1", "--json").json["entries"] == before


@pytest.mark.parametrize("said", ["--flowmeter-least", "--flowmeter-most"])
def test_the_flowmeter_tells_its_ends(bay1: Command, said: str) -> None:
    assert bay1("machine", "profile", "bay1", said, "200mL/min", "--by", "KO").code == 0
    word = "from" if said.endswith("least") else "to"
    assert f"flowmeter: {word} 0.2 L/min" in bay1("machine", "show", "bay1").out
