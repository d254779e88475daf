"""How many statements an answer takes: no more for many machines or a long record than for few."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from logbook.answers.board import board
from logbook.answers.due import due
from logbook.answers.moment import Moment
from logbook.answers.ready import ready
from logbook.recording.opening import Book, reading
from tests.benchmarks.make_ledger import make
from tests.ledger.scribe import Scribe, counted, denver

ANSWERS: dict[str, tuple[Callable[[Any, Moment], object], int]] = {
    "board": (board, 20),
    "ready": (lambda connection, moment: ready(connection, moment, "bay1"), 25),
    "due": (due, 25),
}
"""Each answer with the most statements that it may take."""


def statements(book: Book, at: str, name: str) -> int:
    answer, _ = ANSWERS[name]
    with counted(book.connection) as sent:
        answer(book.connection, Scribe(book).moment(at))
    return len(sent)


@pytest.fixture(scope="module")
def clinics(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    """Clinics of one, six and forty machines with a week behind them."""
    folder = tmp_path_factory.mktemp("clinics")
    paths = {machines: folder / f"{machines}.ledger" for machines in (1, 6, 40)}
    for machines, path in paths.items():
        make(path, machines, weeks=1)
    return paths


@pytest.mark.parametrize("name", ANSWERS)
def test_many_machines_take_no_more_statements_than_one(
    clinics: dict[int, Path], name: str
) -> None:
    taken = set()
    for path in clinics.values():
        with reading(path) as book:
            taken.add(statements(book, "2025-12-31 18:00", name))
    assert len(taken) == 1
    assert max(taken) <= ANSWERS[name][1]


@pytest.mark.parametrize("name", ANSWERS)
def test_many_readings_take_no_more_statements_than_ten(bays: Scribe, name: str) -> None:
    start, at = denver("2026-03-02 07:00"), "2026-03-30 07:00"

    def read(times: range) -> None:
        for n in times:
            when = start + timedelta(minutes=10 * n)
            bays("agent_level", when, vaporizer="iso1", level_ml=str(200 - n % 100))

    read(range(10))
    few = statements(bays.book, at, name)
    read(range(10, 2000))
    assert statements(bays.book, at, name) == few <= ANSWERS[name][1]
