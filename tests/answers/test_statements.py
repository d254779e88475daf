"""How many statements an answer takes: no more for many machines or a long record than for few."""

import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine

from logbook.answers.board import board
from logbook.answers.cases import case_list
from logbook.answers.due import due
from logbook.answers.moment import Moment
from logbook.answers.ready import ready
from logbook.recording.opening import Book, reading
from tests.benchmarks.make_ledger import make
from tests.conftest import Ran
from tests.ledger.scribe import Scribe, counted, denver

ANSWERS: dict[str, tuple[Callable[[Any, Moment], object], int]] = {
    "board": (board, 20),
    "ready": (lambda connection, moment: ready(connection, moment, "bay1"), 20),
    "due": (due, 15),
    "case list": (lambda connection, moment: case_list(connection, moment, 0), 25),
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
def test_many_machines_take_no_more_statements_than_a_few(
    clinics: dict[int, Path], name: str
) -> None:
    taken = []
    for path in clinics.values():
        with reading(path) as book:
            taken.append(statements(book, "2025-12-31 18:00", name))
    one, few, many = taken
    # One machine alone has no charcoal, and what no machine has is not asked for.
    assert one <= few == many <= ANSWERS[name][1]


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


LOG_A_CASE = (
    "case log bay1 --began 17:10 --ran 20min --circuit adult --flow 1L/min --dial 2 --by KO"
)
COMMANDS = {"board": 25, "ready bay1": 25, "due": 22, LOG_A_CASE: 40}
"""Each command with the most statements that it may take in all, from opening the ledger on."""


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("machines", [1, 6, 40])
def test_a_whole_command_takes_few_statements(
    clinics: dict[int, Path], machines: int, command: str, tmp_path: Path,
    run_logbook: Callable[..., Ran], clock: Callable[[datetime], None],
) -> None:  # fmt: skip
    ledger = shutil.copy(clinics[machines], tmp_path / "clinic.ledger")
    clock(datetime(2026, 1, 1, 1, 0, tzinfo=UTC))
    with counted(Engine) as sent:
        assert run_logbook("--ledger", str(ledger), *command.split()).code in (0, 3)
    assert 10 < len(sent) <= COMMANDS[command]
