"""Below the doors nobody names a command or an option of the shell: each door has its own words."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from logbook.cli import COMMANDS

HOUSE = Path(__file__).parent.parent / "logbook"
COMMAND = "|".join(sorted(COMMANDS))
OF_THE_SHELL = re.compile(rf"(^|[\s:'(])(logbook ({COMMAND})\b|--[a-z])")
SPARED = {
    "cli": "the shell itself",
    "verify_standalone.py": "a program of its own, with a command line of its own",
    "checkpoint.py": "the title of a checkpoint begins with the name of the logbook",
}
"""Rooms and files that may, with the reason."""


def shell_words(source: str) -> Iterator[str]:
    """Texts that name a command or an option; what a docstring says is no screen."""
    tree = ast.parse(source)
    docstrings = {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)
    }  # A text that stands alone documents what is above it.
    for node in ast.walk(tree):
        is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if is_text and id(node) not in docstrings and OF_THE_SHELL.search(node.value):
            yield node.value


def test_no_text_below_the_doors_names_a_command_or_an_option_of_the_shell() -> None:
    found = {
        str(path.relative_to(HOUSE)): words
        for path in sorted(HOUSE.rglob("*.py"))
        if not SPARED.keys() & {path.relative_to(HOUSE).parts[0], path.name}
        if (words := list(shell_words(path.read_text(encoding="utf-8"))))
    }
    assert found == {}


def test_such_a_text_is_found() -> None:
    assert list(shell_words('"""See logbook due."""\nx = "see: logbook due"\ny = "a logbook"')) == [
        "see: logbook due"
    ]
    assert list(shell_words("raise E('give --at')")) == ["give --at"]
