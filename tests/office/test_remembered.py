"""Answers that are kept while nothing changes."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from threading import Barrier, Event

import pytest

from logbook.errors import InputError, NotSaved, Trouble
from logbook.office.office import Heed, Office, Opened
from logbook.office.remembered import Remembered
from logbook.proof.seen import Memory
from tests.conftest import NOW

WAIT_S = 20


@pytest.fixture
def office(ledger: Path, tmp_path: Path) -> Office:
    return Office(ledger, Memory(tmp_path / "seen"), lambda: NOW)


def ignore(_: str) -> None:
    """No warning is looked at."""


def test_an_answer_is_made_once_a_minute_while_nothing_changes(office: Office) -> None:
    times = [NOW]
    remembered = Remembered(replace(office, clock=lambda: times[0]), ignore)
    made: list[int] = []

    def answer(_: Opened) -> int:
        made.append(1)
        return len(made)

    assert [remembered.ask("a", answer) for _ in range(3)] == [1, 1, 1]
    assert remembered.ask("b", answer) == 2
    times[0] += timedelta(minutes=1)
    assert remembered.ask("a", answer) == 3


def test_what_takes_long_is_made_when_the_ledger_is_closed_and_kept(office: Office) -> None:
    remembered, made = Remembered(office, ignore), []

    def read(_: Opened) -> Callable[[], int]:
        def make() -> int:
            with office.writing(ignore):  # It would wait in vain for whoever reads.
                made.append(1)
            return len(made)

        return make

    assert [remembered.ask_in_two("a", read) for _ in range(2)] == [1, 1]


def test_what_cannot_be_made_is_told_and_not_kept(office: Office) -> None:
    remembered = Remembered(office, ignore)

    def never() -> int:
        raise InputError("no")

    with pytest.raises(InputError, match="no"):
        remembered.ask_in_two("a", lambda _: never)
    assert remembered.ask("a", lambda _: 2) == 2


def test_those_who_ask_at_once_wait_for_one_answer(office: Office) -> None:
    remembered, made, go = Remembered(office, ignore), [], Event()

    def answer(_: Opened) -> str:
        made.append(1)
        assert go.wait(WAIT_S)
        return "told"

    with ThreadPoolExecutor(8) as pool:
        told = [pool.submit(remembered.ask, "a", answer) for _ in range(8)]
        go.set()
        assert {one.result(WAIT_S) for one in told} == {"told"}
    assert made == [1]


def test_a_failure_is_told_to_who_asked_and_not_kept(office: Office) -> None:
    remembered = Remembered(office, ignore)

    def fails(_: Opened) -> str:
        raise InputError("no such thing")

    for _ in range(2):
        with pytest.raises(InputError, match="no such thing"):
            remembered.ask("a", fails)
    assert remembered.ask("a", lambda _: "told") == "told"


class HeldElsewhere(Office):
    """A ledger that nobody can open before all who ask try at the same time."""

    together = Barrier(4)

    @contextmanager
    def reading(self, heed: Heed, *, long: bool = False) -> Iterator[Opened]:
        assert heed is ignore
        assert not long
        self.together.wait(WAIT_S)
        raise NotSaved("held", Trouble.LOCKED)
        yield from ()


def test_nobody_queues_before_a_ledger_that_another_program_holds(office: Office) -> None:
    held = HeldElsewhere(office.ledger, office.memory, office.clock)
    remembered = Remembered(held, ignore)
    with ThreadPoolExecutor(4) as pool:
        told = [pool.submit(remembered.ask, "a", lambda _: "told") for _ in range(4)]
        assert all(isinstance(one.exception(WAIT_S), NotSaved) for one in told)


def test_no_more_answers_are_kept_than_a_clinic_looks_at(
    office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.office.remembered.MOST_KEPT", 2)
    remembered, made = Remembered(office, ignore), []
    for question in (1, 2, 1, 3, 1):
        remembered.ask(question, lambda _: made.append(1))
    assert len(made) == 3
    remembered.ask(2, lambda _: made.append(1))
    assert len(made) == 4
