"""Which room may import which: arrows point down only, also inside functions."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "logbook"
GROUND = {
    "clock",
    "country",
    "deed",
    "errors",
    "limits",
    "shipped",
    "temperature",
    "times",
    "units",
    "value",
    "vocabulary",
}
"""Single modules that every room may know; what they know of each other stands below."""
ALLOWED: dict[str, set[str]] = {
    "__init__": set(),
    "__main__": {"cli"},
    "clock": {"errors", "times"},
    "country": {"errors", "units", "vocabulary"},
    "deed": set(),
    "errors": set(),
    "limits": set(),
    "shipped": set(),
    "value": set(),
    "vocabulary": set(),
    "units": {"errors"},
    "temperature": {"errors", "units"},
    "times": {"errors", "units", "vocabulary"},
    "verify_standalone": set(),
    "checklists": {"arithmetic", "errors", "limits", "times", "units", "value", "vocabulary"},
    "arithmetic": {"errors", "limits", "units", "vocabulary"},
    "entries": {"arithmetic", "checklists", "clock", "errors", "times", "units", "vocabulary"},
    "ledger": GROUND | {"entries"},
    "projections": GROUND | {"arithmetic", "checklists", "entries", "ledger"},
    "answers": GROUND | {"arithmetic", "checklists", "entries", "ledger", "projections"},
    "recording": GROUND
    | {"answers", "arithmetic", "checklists", "entries", "ledger", "projections"},
    "proof": GROUND | {"__init__", "entries", "ledger", "projections", "recording"},
    "sheets": GROUND | {"answers", "arithmetic", "checklists", "entries", "ledger", "proof"},
    "office": GROUND
    | {"answers", "checklists", "entries", "ledger", "projections", "proof", "recording"},
    "centre": GROUND | {"answers", "entries", "ledger", "page", "projections", "proof", "sheets"},
    "page": GROUND
    | {"__init__", "answers", "arithmetic", "checklists", "entries", "ledger", "projections"}
    | {"office", "proof", "recording", "sheets"},
    "cli": GROUND
    | {"__init__", "answers", "arithmetic", "checklists", "entries", "ledger", "projections"}
    | {"centre", "office", "page", "proof", "recording", "sheets"},
}
ONLY: dict[tuple[str, str], set[str]] = {
    ("entries", "arithmetic"): {"allowed", "vaporizer"},
    ("entries", "checklists"): {"model"},
    # What knows SQLite stays below: ``connect``, ``sqlite_file``, ``upgrade``.
    ("projections", "ledger"): {"chain", "columns", "expressions", "schema", "store"},
    ("answers", "ledger"): {"chain", "columns", "expressions", "schema", "store"},
    ("recording", "ledger"): {"chain", "disk", "home", "kept", "schema", "store"},
    # The page is served from the shell; beyond that the two doors know nothing of each other.
    ("cli", "page"): {"app", "feed", "looking", "server", "signing", "world"},
    ("page", "ledger"): {"store"},
    ("office", "ledger"): {"disk", "earlier", "file", "kept", "schema", "store"},
    ("cli", "ledger"): {"disk", "file", "home", "kept", "schema", "store"},
    ("sheets", "ledger"): {"store"},
    ("centre", "ledger"): {"chain", "columns", "disk", "schema", "store"},
    # The group's pages look as the clinic's do.
    ("centre", "page"): {"dress"},
    ("centre", "proof"): {"receipt", "segment", "signing"},
    ("sheets", "proof"): {"checkpoint", "findings", "remarks", "verify"},
}
"""Of a room that is known in part: the modules of it that may be known."""
BY_NAME = {"cli/__init__.py", "cli/options.py", "entries/__init__.py"}
"""The files that import by a name put together, each from its own room or one below."""


def imports(file: Path) -> Iterator[str]:
    """Every module that a file imports, wherever the import stands."""
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file}: imports are written in full"
            if node.module == "logbook":
                yield from (f"logbook.{alias.name}" for alias in node.names)
            else:
                yield node.module


def room_of(module: str) -> str:
    """The part of ``logbook`` that a module belongs to; its own facts, such as the version, are
    those of ``__init__``."""
    name = [*module.split("."), "__init__"][1]
    return "__init__" if name.startswith("__") else name


FILES = {str(file.relative_to(PACKAGE)): file for file in sorted(PACKAGE.rglob("*.py"))}


def own_imports(name: str) -> Iterator[str]:
    return (module for module in imports(FILES[name]) if module.split(".")[0] == "logbook")


def own_room(name: str) -> str:
    return name.removesuffix(".py").split("/")[0]


def test_every_room_stands_in_the_table_and_the_table_holds_no_other() -> None:
    assert {own_room(name) for name in FILES} == ALLOWED.keys()


@pytest.mark.parametrize("name", FILES)
def test_a_file_imports_only_from_the_rooms_below_it(name: str) -> None:
    own = own_room(name)
    for module in own_imports(name):
        other = room_of(module)
        assert other == own or other in ALLOWED[own], f"{own} must not know {module}"
        if (own, other) in ONLY:
            part = [*module.split("."), ""][2]
            assert part in ONLY[own, other], f"{own} must not know {module}"


def test_no_room_knows_one_that_knows_it() -> None:
    for own, others in ALLOWED.items():
        assert own not in others
        for other in others:
            assert own not in ALLOWED[other]


def test_an_import_inside_a_function_is_seen(tmp_path: Path) -> None:
    file = tmp_path / "hidden.py"
    file.write_text(
        "def f():\n    if True:\n        from logbook.cli import desk\n"
        "        import logbook.sheets.line as x\n        from logbook import answers\n"
    )
    assert {room_of(module) for module in imports(file)} == {"cli", "sheets", "answers"}


def test_imports_by_a_name_put_together_stay_where_they_are() -> None:
    """Such an import is nothing that a table of imports can see."""
    found = {name for name, file in FILES.items() if "import_module(" in file.read_text("utf-8")}
    assert found <= BY_NAME


@pytest.mark.parametrize(
    ("package", "only_in"),
    [
        ("alembic", {"centre/upgrade.py", "ledger/upgrade.py"}),
        ("sqlite3", {"ledger", "proof", "verify_standalone"}),
        ("click", {"cli"}),
        ("dateutil", {"arithmetic/calendar.py"}),
        ("flask", {"page", "centre/door.py", "centre/pages.py"}),
        ("werkzeug", {"page", "centre/door.py", "centre/pages.py"}),
        ("cheroot", {"page/server.py"}),
    ],
)
def test_a_package_from_outside_stays_in_its_place(package: str, only_in: set[str]) -> None:
    found = {
        name
        for name, file in FILES.items()
        if any(module.split(".")[0] == package for module in imports(file))
    }
    assert found, f"nothing imports {package} any more"
    assert {
        name for name in found if name not in only_in and own_room(name) not in only_in
    } == set()
