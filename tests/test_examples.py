"""The examples in docstrings give what they show, and every part that counts or reads has one."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
FILES = {
    ".".join(file.relative_to(ROOT).with_suffix("").parts): file.read_text("utf-8")
    for file in sorted((ROOT / "logbook").rglob("*.py"))
}
SHOWN = [name for name, text in FILES.items() if ">>> " in text]


@pytest.mark.parametrize("name", SHOWN)
def test_an_example_gives_what_it_shows(name: str) -> None:
    ran = doctest.testmod(import_module(name))
    assert ran.attempted
    assert not ran.failed


def test_the_readers_of_units_and_times_and_the_sums_show_examples() -> None:
    sums = {"absorbent", "agent", "bag", "calendar", "circuit", "flows", "oxygen"}
    assert {"logbook.units", "logbook.times"} <= set(SHOWN)
    assert {f"logbook.arithmetic.{name}" for name in sums} <= set(SHOWN)


@pytest.mark.parametrize("name", FILES)
def test_what_is_raised_stands_in_one_form(name: str) -> None:
    """A line ``Raises:``, then each error with when it is raised; never within a sentence."""
    assert "Raises ``" not in FILES[name]
