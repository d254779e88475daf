"""Every number of the trade has its source beside it."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from logbook.arithmetic import constants
from logbook.limits import LIMITS, Sourced

PACKAGE = Path(__file__).parents[1] / "logbook"
STRUCTURAL = (
    {
        0,
        1,
        2,
        -1,
        5,
        10,
        60,
        100,
        1000,
        3600,
        60_000,
        86_400,
    }  # percent, time, mL in L
    | {0.1, 0.001, 40, 53}  # how finely is rounded, and how exactly is reckoned
    | {24, 31, 50, 366, 2000, 2050}  # the calendar
    | {8, 11, 16}  # places in the text of a date
    | {200, 500, 5_000, 200_000, 1_000_000}  # rows in a query, sizes of files
)
"""Numbers that are none of the trade."""
SAYS_WHY = (
    "our own choice",
    "from memory",
    "source",
    "slip of the pen",
    "RFC",
    "SQLite",
    "above any",
)
CONFIDENCE = {
    "read",
    "seen quoted",
    "weak",
    "common practice, no source",
    "from memory",
    "arithmetic",
    "our own choice",
}


def test_every_limit_and_constant_says_where_it_comes_from_and_how_sure_we_are() -> None:
    found = [*LIMITS.values(), *_sourced(vars(constants).values())]
    assert len(found) > 50
    assert [
        one for one in found if not one.source.strip() or one.confidence not in CONFIDENCE
    ] == []


def _sourced(values: object) -> Iterator[Sourced]:
    for value in values:  # type: ignore[attr-defined]
        if isinstance(value, Sourced):
            yield value
        elif isinstance(value, constants.AgentFacts):
            yield value.molar_mass_g_mol
            yield value.vapour_ml_per_ml
            yield value.vapour_pressure_mmhg
        elif isinstance(value, constants.FullCylinder):
            yield from (value.volume_l, value.gauge_psi)
        elif isinstance(value, tuple):
            yield from _sourced(value)
        elif hasattr(value, "values") and not isinstance(value, type):
            yield from _sourced(value.values())


@pytest.mark.parametrize("room", ["arithmetic", "answers", "recording", "entries", "projections"])
def test_no_number_of_the_trade_stands_in_the_code_without_a_source(room: str) -> None:
    bare = [
        f"{path.name}:{line} {number}"
        for path in sorted((PACKAGE / room).glob("*.py"))
        for line, number in _bare_numbers(path)
    ]
    assert bare == []


def _bare_numbers(path: Path) -> Iterator[tuple[int, object]]:
    """Numbers outside ``Sourced`` whose statement, comment or docstring names no source."""
    text = path.read_text()
    lines = text.splitlines()
    tree = ast.parse(text)
    sourced = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and getattr(node.func, "id", "") in ("Sourced", "_agent", "_cylinder", "_full")
        for part in ast.walk(node)
    }
    for statement in tree.body:
        near = "\n".join(lines[max(statement.lineno - 4, 0) : (statement.end_lineno or 0) + 3])
        explained = not isinstance(statement, ast.FunctionDef | ast.ClassDef) and any(
            word in near for word in SAYS_WHY
        )
        for node in ast.walk(statement):
            if id(node) not in sourced and not explained:
                number = _number(node)
                if number is not None and number not in STRUCTURAL:
                    yield node.lineno, number  # type: ignore[attr-defined]


def _number(node: ast.AST) -> int | float | None:
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        return node.value  # type: ignore[return-value]
    if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Decimal":
        text = getattr(node.args[0], "value", None) if node.args else None
        return float(text) if isinstance(text, str) else None
    return None
