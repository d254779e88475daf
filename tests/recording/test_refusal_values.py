"""A refusal is a value: what is wrong, what would do, and the act that each door says itself."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from logbook.cli.refusal import GO_ON, in_shell
from logbook.entries import KINDS
from logbook.entries.book import Note
from logbook.errors import Act, InputError, LogbookError, NotKnown
from logbook.recording.opening import reading, writing
from logbook.recording.refusals.content import REFUSALS
from tests.ledger.scribe import Scribe
from tests.test_rooms import FILES, own_room

AT = "2026-03-02 08:00"
OF_THE_SHELL = {"cli", "proof", "sheets"}
"""Doors, and rooms that only the shell leads to: files are copied and brought back there."""


@pytest.fixture
def tell(ledger: Path) -> Iterator[Scribe]:
    with writing(ledger) as book:
        scribe = Scribe(book)
        scribe("machine", AT, machine="bay1")
        yield scribe


def test_what_is_not_there_is_told_with_what_is(tell: Scribe) -> None:
    with pytest.raises(NotKnown) as caught:
        tell("fault", AT, unit="x", what="leak")
    error = caught.value
    assert (error.noun, error.name, error.known, error.exit_code) == ("unit", "x", ("bay1",), 2)
    assert (error.wrong, error.would_do) == ("there is no unit x", "known are bay1")


def test_where_nothing_is_known_yet_that_is_told() -> None:
    assert str(NotKnown("machine", "bay1", [])) == "there is no machine bay1; known are none yet"
    assert str(NotKnown("entry", "99")) == "there is no entry 99"


def test_a_case_that_still_runs_names_the_act_and_the_machine(tell: Scribe) -> None:
    tell("case_begin", AT, machine="bay1")
    with pytest.raises(InputError) as caught:
        tell("case_begin", "2026-03-02 09:00", machine="bay1")
    error = caught.value
    assert (error.would_do, error.act, error.about) == ("end it first", Act.END_CASE, "bay1")
    assert str(error).endswith("; end it first")
    assert in_shell(error).endswith("; end it first with: logbook case end bay1")


def test_a_ledger_that_is_not_there_is_started_by_an_act(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught, reading(tmp_path / "none.ledger"):
        pass
    assert caught.value.act is Act.START_LEDGER


@pytest.mark.parametrize("act", Act)
def test_the_shell_has_a_way_to_each_act(act: Act) -> None:
    said = in_shell(LogbookError("wrong", "right", act=act, about="bay1"))
    assert said.startswith("wrong; right")
    assert said != "wrong; right"
    assert "{" not in said


def test_the_shell_knows_no_act_that_there_is_not() -> None:
    assert set(GO_ON) == set(Act)


@pytest.mark.parametrize(
    "draft_id", ["7", "x" * 36, "{9f0c6a52-9f3e-4f8c-8d5f-6f2f8f1f0a11}", "9F0C6A52" + "-" * 4]
)
def test_an_identity_that_is_no_uuid_is_refused_below_every_door(
    tell: Scribe, draft_id: str
) -> None:
    with pytest.raises(InputError, match="is no UUID; make a new one"):
        tell.save(Note(text="x"), AT, draft_id=draft_id)


def test_an_identity_in_another_spelling_is_refused(tell: Scribe) -> None:
    plain = "9f0c6a52-9f3e-4f8c-8d5f-6f2f8f1f0a11"
    with pytest.raises(InputError, match="is no UUID"):
        tell.save(Note(text="x"), AT, draft_id=plain.upper())
    tell.save(Note(text="x"), AT, draft_id=plain)


def test_refusals_are_of_kinds_that_there_are() -> None:
    assert REFUSALS.keys() < KINDS.keys()


def commands_named(source: str) -> list[str]:
    """The texts of a file, other than docstrings, that name a command of the shell."""
    tree = ast.parse(source)
    texts = (node for node in ast.walk(tree) if isinstance(node, ast.Constant))
    alone = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        node.value
        for node in texts
        if isinstance(node.value, str) and ": logbook " in node.value and id(node) not in alone
    ]


@pytest.mark.parametrize("name", [name for name in FILES if own_room(name) not in OF_THE_SHELL])
def test_no_sentence_below_the_doors_names_a_command(name: str) -> None:
    if name != "verify_standalone.py":
        assert commands_named(FILES[name].read_text("utf-8")) == []


def test_a_sentence_that_names_a_command_is_found() -> None:
    source = '"""The logbook itself."""\nraise InputError(f"{x}; see: logbook case list")\n'
    assert commands_named(source) == ["; see: logbook case list"]
