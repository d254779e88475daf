"""The house stays small enough to be read: short files, short functions, a word on each part."""

import ast
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from logbook import __version__

ROOT = Path(__file__).parents[1]
LONGEST_FILE = 400
LONGEST_FUNCTION = 70
TOP = {
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "logbook",
    "migrations",
    "pyproject.toml",
    "sample_data",
    "tests",
}
FILES = {str(file.relative_to(ROOT)): file for file in sorted((ROOT / "logbook").rglob("*.py"))}
EVERY_FILE = pytest.mark.parametrize("name", FILES)
Function = ast.FunctionDef | ast.AsyncFunctionDef


def tree(name: str) -> ast.Module:
    return ast.parse(FILES[name].read_text("utf-8"))


def too_long(module: ast.AST, longest: int) -> list[str]:
    """The functions with more lines than that, their decorators not counted."""
    return [
        node.name
        for node in ast.walk(module)
        if isinstance(node, Function) and node.end_lineno - node.lineno + 1 > longest
    ]


def public(body: list[ast.stmt], of: str = "") -> Iterator[tuple[str, ast.AST]]:
    """Every public function and class, and the public methods of those."""
    for node in body:
        if isinstance(node, Function | ast.ClassDef) and not node.name.startswith("_"):
            yield of + node.name, node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body, f"{node.name}.")


@EVERY_FILE
def test_no_file_is_longer_than_a_person_reads_at_once(name: str) -> None:
    assert len(FILES[name].read_text("utf-8").splitlines()) <= LONGEST_FILE


@EVERY_FILE
def test_no_function_is_longer_than_a_page(name: str) -> None:
    assert too_long(tree(name), LONGEST_FUNCTION) == []


@EVERY_FILE
def test_every_public_part_says_what_it_is(name: str) -> None:
    module = tree(name)
    silent = [part for part, node in public(module.body) if not ast.get_docstring(node)]
    assert ast.get_docstring(module)
    assert silent == []


def test_the_top_of_the_repository_holds_what_it_should() -> None:
    """Files of builds and tools begin with a dot or are left out of the repository."""
    built = {"build", "dist"}
    found = {one.name for one in ROOT.iterdir() if not one.name.startswith(".")} - built
    assert found == TOP


def test_the_changelog_begins_with_what_is_unreleased_and_dates_every_version() -> None:
    heads = re.findall(r"^## (.+)$", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)
    assert heads[0] == "Unreleased"
    versions = [re.fullmatch(r"([0-9]+\.[0-9]+\.[0-9]+) - (\S+)", head) for head in heads[1:]]
    assert None not in versions
    assert versions[0][1] == __version__
    days = [date.fromisoformat(found[2]) for found in versions]
    assert days == sorted(days, reverse=True)


def test_no_two_tests_files_share_their_name() -> None:
    names = [file.name for file in (ROOT / "tests").rglob("test_*.py")]
    assert sorted(names) == sorted(set(names))


def test_what_is_too_long_or_silent_is_found() -> None:
    module = ast.parse("class A:\n    def b(self):\n        x = 1\n        return x\n")
    assert too_long(module, 2) == ["b"]
    assert too_long(module, 3) == []
    assert [part for part, _ in public(module.body)] == ["A", "A.b"]
