"""Every statement of the rooms above the ledger is one that PostgreSQL could be asked, too.

A demo is made, and every question asked of it, while all statements are caught before SQLite sees
them. Each place in the code that sends a statement must be among those that were caught.
"""

import ast
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, event
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable
from sqlalchemy.sql import visitors
from sqlalchemy.sql.elements import BinaryExpression, BindParameter, ColumnClause, TextClause
from sqlalchemy.sql.functions import FunctionElement
from sqlalchemy.sql.operators import is_
from sqlalchemy.types import Boolean, Integer

from logbook.centre.tables import SCHEMA, read_anew
from logbook.checklists import builtin
from logbook.checklists.reading import builtin_text
from logbook.ledger.schema import truth
from logbook.projections.tables import projected
from logbook.recording.demo import build_demo
from logbook.shipped import folder
from tests.conftest import Ran

LOGBOOK = Path(__file__).parents[2] / "logbook"
ROOMS = ("answers", "projections", "recording", "office")
SENDING = {"execute", "scalar", "scalars"}
KNOWN = {"coalesce": None, "count": None, "sum": 1, "min": 1, "max": 1, "least": None,
         "greatest": None, "row_number": 0, "lower": 1}  # fmt: skip
"""The functions that PostgreSQL has with the same meaning, and with how many arguments."""
AFTER_THE_DEMO = datetime(2026, 3, 9, 16, 0, tzinfo=UTC)
POSTGRESQL = postgresql.dialect()
QUESTIONS = (
    "board", "ready bay1", "due", "due --all", "due --as-of 2026-03-02", "history bay1",
    "history iso1", "machine list", "machine show bay1", "vaporizer list", "vaporizer show iso1",
    "checklist list", "checklist show daily", "rule list", "staff list", "checkpoint", "case list",
    "forecast show", "history --corrections",
    "setup --machine bay1 --weight 24kg", "service list", "audit --from 2026-01-12",
    "forecast score", "due --week", "export evidence pack --from 2026-02-01",
)  # fmt: skip
DEEDS = (
    "clinic change Birch --because renamed",
    "note x", "note x", "correct last --withdraw --because slip",
    "staff add ZZ Robin", "machine add bay9 --serial M-9",
    "vaporizer add iso9 --agent isoflurane --fit bay9", "vaporizer remove iso9",
    "fault report bay1 leak", "fault list", "fault close LAST --because mended",
    "fault report bay9 leak --out-of-service", "case begin bay9 --pop-off open --at 9:00",
    "correct LAST --ran 30min --because slip", "case end bay9",
    "absorbent change bay9", "agent fill iso1 --added 20ml",
    "case log bay9 --began 2026-03-02T08:10 --ran 1h35 --circuit adult --weight 24kg --dial 2"
    " --reference C-17",
    "reference show LAST", "reference erase LAST --because asked",
    "oxygen read bay9 --cylinder 1800psi", "charcoal change bay9", "charcoal weigh bay9 250g",
    "rebuild", "rule set leak-flow 150 --because ours", "service plan iso1 overhaul --every P12M",
    "service done iso1 overhaul --outcome passed", "vaporizer verify iso1 --output 2 2.1",
    "import cases cases.csv", "import cases cases.csv", "import returns returns.csv",
    "check bay1 --answers answers.json",
    "correct LAST --item oxygen-monitor=passed --because slip",
    "check bay1 --answers one.json --redo oxygen-monitor",
    "check bay1 --redo breathing-system-leak < 150 at 30", "check bay1 --go-on < b",
    "check bay1 --go-on --by ZZ < 150", "check bay1 --throw-away",
    "checklist load daily.toml", "correct 12 --set serial=V-9 --because slip",
    "correct 12 --withdraw --because slip", "machine retire bay9 --because sold",
)  # fmt: skip
"""What is written, as a person types it, and after the sign what is typed when it asks."""


def sending_places() -> Iterator[tuple[str, int, int]]:
    """Every place that sends a statement: its file, and the lines from first to last."""
    for room in ROOMS:
        for file in sorted((LOGBOOK / room).rglob("*.py")):
            for node in ast.walk(ast.parse(file.read_text("utf-8"))):
                if (
                    isinstance(node, ast.Call)
                    and isinstance(node.func, ast.Attribute)
                    and node.func.attr in SENDING
                    and (node.args or node.keywords)
                ):
                    yield str(file), node.lineno, node.end_lineno or node.lineno


@contextmanager
def caught() -> Iterator[tuple[list[Any], set[tuple[str, int]]]]:
    """All statements that are sent meanwhile, and the lines of ours from which they came."""
    statements: list[Any] = []
    lines: set[tuple[str, int]] = set()

    def catch(_connection: Any, statement: Any, *_more: Any) -> None:
        statements.append(statement)
        frame = sys._getframe()
        while frame is not None:
            if frame.f_code.co_filename.startswith(str(LOGBOOK)):
                lines.add((frame.f_code.co_filename, frame.f_lineno))
            frame = frame.f_back

    event.listen(Engine, "before_execute", catch)
    try:
        yield statements, lines
    finally:
        event.remove(Engine, "before_execute", catch)


@pytest.fixture
def asked(
    run_logbook: Callable[..., Ran],
    clock: Callable[[datetime], None],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> tuple[list[Any], set[tuple[str, int]]]:
    """What is sent while a clinic's weeks are written and everything is asked."""
    path = tmp_path / "demo.ledger"
    clock(AFTER_THE_DEMO)
    monkeypatch.chdir(tmp_path)
    skipped = {"state": "not done", "reason": "no time"}
    answers = {item.key: skipped for item in builtin("daily").items}
    Path("answers.json").write_text(json.dumps(answers))
    Path("one.json").write_text(json.dumps({"oxygen-monitor": skipped}))
    newer = builtin_text("daily").replace("version = 2", "version = 3")
    Path("daily.toml").write_text(newer)
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    monkeypatch.setattr("logbook.cli.unfinished.has_terminal", lambda: True)
    Path("cases.csv").write_text("machine,began,ran,reference\nbay1,2026-02-02 18:00,1h,D-18\n")
    Path("returns.csv").write_text("unit,at,certificate\niso6,2026-01-20,W-2107\n")
    with caught() as seen:
        build_demo(path, folder("sample_data"))
        last = ""
        for line in (*DEEDS, *QUESTIONS):
            typed, _, answers = line.replace("LAST", last).partition(" < ")
            ran = run_logbook("--ledger", str(path), *typed.split(), stdin=f"{answers}\n")
            last = ran.out.partition("Saved entry ")[2].partition(":")[0] or last
            print(line, ran)
    return seen


def test_every_statement_is_one_of_postgresql(
    asked: tuple[list[Any], set[tuple[str, int]]],
) -> None:
    statements, lines = asked
    unreached = [
        f"{Path(file).relative_to(LOGBOOK)}:{first}"
        for file, first, last in sending_places()
        if not any(name == file and first <= line <= last for name, line in lines)
    ]
    assert unreached == []
    assert len(statements) > 100
    foreign = {problem for one in statements for problem in foreign_to_postgresql(one)}
    assert foreign == set()


def foreign_to_postgresql(statement: Any) -> Iterator[str]:
    """What PostgreSQL would refuse in a statement, as far as it can be seen without asking it."""
    sql = str(statement.compile(dialect=POSTGRESQL))
    for one in visitors.iterate(statement):
        if isinstance(one, TextClause):
            yield f"text, which no dialect translates: {one}"
        if isinstance(one, FunctionElement):
            name, given = one.name.lower(), len(list(one.clauses))
            if name not in KNOWN or KNOWN[name] not in (None, given):
                yield f"{name} with {given} arguments in {sql}"
        if isinstance(one, BinaryExpression):
            kinds = {_kind(one.left), _kind(one.right)}
            if one.operator is is_ and isinstance(one.right, BindParameter):
                yield f"IS beside a value that is sent in {one}"
            if kinds == {"flag", "number"}:
                yield f"a flag beside a number in {one}"


def _kind(side: Any) -> str:
    if isinstance(side, ColumnClause | BindParameter | FunctionElement):
        if isinstance(side.type.dialect_impl(POSTGRESQL), Boolean):
            return "flag"
        if isinstance(side.type.dialect_impl(POSTGRESQL), Integer):
            return "number"
    return "other"


@pytest.mark.parametrize(
    "table", [*truth.sorted_tables, *projected.sorted_tables], ids=lambda table: table.name
)
def test_every_table_can_be_made_there_with_whole_numbers_of_64_bits(table: Any) -> None:
    made = str(CreateTable(table).compile(dialect=POSTGRESQL))
    assert "INTEGER" not in made
    assert "json_valid" not in made


@pytest.mark.parametrize("table", projected.sorted_tables, ids=lambda table: table.name)
def test_an_index_of_some_rows_is_one_of_the_same_rows_in_a_groups_store(table: Any) -> None:
    there = {index.name: index for index in read_anew.tables[f"{SCHEMA}.{table.name}"].indexes}
    assert there.keys() == {index.name for index in table.indexes}
    for index in table.indexes:
        some = index.dialect_options["sqlite"]["where"]
        made = str(CreateIndex(there[index.name]).compile(dialect=POSTGRESQL))
        assert made.partition(" WHERE ")[2] == ("" if some is None else str(some))
