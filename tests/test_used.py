"""Nothing in the program is there for the tests alone: what no other part of it names is found."""

import ast
from collections import defaultdict
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import NamedTuple

PACKAGE = Path(__file__).parents[1] / "logbook"
EXCUSED = {
    "list_commands": "called by click",
    "get_command": "called by click",
    "format_commands": "called by click",
    "model_config": "read by pydantic",
    "impl": "read by SQLAlchemy",
    "cache_ok": "read by SQLAlchemy",
    "inherit_cache": "read by SQLAlchemy",
    "load_dialect_impl": "called by SQLAlchemy",
    "process_bind_param": "called by SQLAlchemy",
    "process_result_value": "called by SQLAlchemy",
    "wrap": "called by cheroot",
    "error_log": "called by cheroot",
    "process_conn": "called by cheroot",
    "close": "called by cheroot",
    "ConnectionClass": "read by cheroot",
    "first_break": "the chain walked a second way, which the tests hold the verifier against",
    "limits_table": "the README's table, which its test writes and compares",
}
"""What no other part of the program names, and why it stands there nevertheless."""


class Named(NamedTuple):
    """A name that a file gives: at its top, or in a class at its top."""

    file: str
    line: int
    name: str


def given_names(file: str, tree: ast.Module) -> Iterator[tuple[Named, ast.stmt]]:
    """The functions, classes and constants of a file, and the methods of its classes.

    What a decorator takes is registered there; what a class declares with a type is a field.
    """
    for node in tree.body:
        inner = node.body if isinstance(node, ast.ClassDef) else []
        for one in (node, *inner):
            if isinstance(one, ast.FunctionDef | ast.ClassDef):
                registered = any(isinstance(by, ast.Call) for by in one.decorator_list)
                if not registered or isinstance(one, ast.ClassDef):
                    yield Named(file, one.lineno, one.name), one
            elif isinstance(one, ast.Assign) or (one is node and isinstance(one, ast.AnnAssign)):
                targets = one.targets if isinstance(one, ast.Assign) else [one.target]
                for target in targets:
                    if isinstance(target, ast.Name):
                        yield Named(file, one.lineno, target.id), one


def used_names(part: ast.AST) -> Iterator[str]:
    """The names that one node uses, also one inside a text (``getattr`` by name)."""
    if isinstance(part, ast.Name) and isinstance(part.ctx, ast.Load):
        yield part.id
    elif isinstance(part, ast.Attribute):
        yield part.attr
    elif isinstance(part, ast.alias) and part.asname:
        yield part.name
    elif isinstance(part, ast.keyword) and part.arg:
        yield part.arg
    elif isinstance(part, ast.Constant) and isinstance(part.value, str):
        yield part.value


def unused(sources: dict[str, str], excused: Collection[str] = ()) -> list[Named]:
    """What is named nowhere but in itself and in what is itself not used."""
    trees = {file: ast.parse(text) for file, text in sources.items()}
    given = [one for file, tree in trees.items() for one in given_names(file, tree)]
    waiting = [
        (named, set(map(id, ast.walk(node))))
        for named, node in given
        if named.name not in excused and not named.name.startswith("__")
    ]
    uses: dict[str, set[int]] = defaultdict(set)
    for tree in trees.values():
        for part in ast.walk(tree):
            for name in used_names(part):
                uses[name].add(id(part))
    dead: set[int] = set()
    found: list[Named] = []
    while idle := [one for one in waiting if uses[one[0].name] <= dead | one[1]]:
        found += [named for named, _ in idle]
        dead.update(*(inside for _, inside in idle))
        waiting = [one for one in waiting if one not in idle]
    return sorted(found)


def program() -> dict[str, str]:
    """The text of every file of the program."""
    return {str(file.relative_to(PACKAGE)): file.read_text() for file in PACKAGE.rglob("*.py")}


def test_nothing_in_the_program_is_called_by_the_tests_alone() -> None:
    assert unused(program(), EXCUSED) == []


def test_what_is_excused_is_there() -> None:
    trees = {file: ast.parse(text) for file, text in program().items()}
    there = {named.name for file, tree in trees.items() for named, _ in given_names(file, tree)}
    assert EXCUSED.keys() - there == set()


def test_code_for_the_tests_alone_is_found_with_what_only_it_calls() -> None:
    sources = {
        "sums.py": (
            "LIMIT = 3\n"
            "SPARE = 4\n"
            "def judge(value): return value < LIMIT\n"
            "def twin(value): return judge_again(value) or twin(value - 1)\n"
            "def judge_again(value): return value < SPARE\n"
            "class Kept:\n"
            "    field: int = 0\n"
            "    def asked(self): return self.field\n"
            "    def idle(self): return self.asked()\n"
            "def by_text(): return 1\n"
            "@group.command()\n"
            "def registered(): return Kept, judge, getattr(0, 'by_text')\n"
        ),
        "other.py": "from sums import judge as ruled\nprint(ruled(2))\n",
    }
    assert [one.name for one in unused(sources)] == [
        "SPARE",
        "twin",
        "judge_again",
        "asked",
        "idle",
    ]
