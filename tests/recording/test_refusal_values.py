"""A refusal is a value: what is wrong, what would do, and the act that each door says itself."""

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

AT = "2026-03-02 08:00"


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
    with pytest.raises(NotKnown) as caught:
        tell.save(Note(text="x"), AT, by="ZZ")
    assert (caught.value.noun, caught.value.known) == ("person", ("KO",))


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
    assert in_shell(error).endswith(
        "; end it first with: logbook case end bay1 --at TIME, or --ran 1h10"
    )


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
