"""The JSON Schemas that come with the program are those of its classes, and only ever grow."""

import json
import os
from collections.abc import Callable
from typing import Any

import pytest

from tests.conftest import Ran
from tests.schemas.making import FOLDER, broken, made, path_of, sheets, told

MADE = made()


def text(schema: dict[str, Any]) -> str:
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


@pytest.mark.parametrize("name", MADE)
def test_a_schema_only_grows_and_the_file_is_that_of_today(name: str) -> None:
    """``UPDATE_SCHEMAS=1`` writes what was added; what was lost needs a schema of a new number.

    The files are compared by what they say, because each version of pydantic spells it its own way.
    """
    path = path_of(name)
    if path.exists():
        kept = json.loads(path.read_text("utf-8"))
        assert broken(kept, MADE[name], entry=name.startswith("entry/")) == []
    if os.environ.get("UPDATE_SCHEMAS"):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text(MADE[name]), "utf-8")
    assert told(json.loads(path.read_text("utf-8"))) == told(MADE[name])


def test_no_schema_is_kept_of_what_there_is_not() -> None:
    kept = {str(path.relative_to(FOLDER).with_suffix("")) for path in FOLDER.rglob("*.json")}
    assert kept == MADE.keys()
    assert len(sheets()) >= 19


@pytest.mark.parametrize("name", MADE)
def test_a_schema_says_the_type_of_each_key(name: str) -> None:
    facts = told(MADE[name])
    assert facts
    free = {path for path, what in facts.items() if "anything" in what}
    assert free <= {"schema"}


ANSWER = {
    "properties": {"a": {"$ref": "#/$defs/A"}, "n": {"anyOf": [{"type": "integer"}]}},
    "required": ["a"],
    "$defs": {"A": {"type": "array", "items": {"enum": ["x", "y"], "type": "string"}}},
}


def changed(at: str, value: Any) -> dict[str, Any]:
    new = json.loads(json.dumps(ANSWER))
    where = new
    *way, last = at.split("/")
    for key in way:
        where = where[key]
    where[last] = value
    return new


@pytest.mark.parametrize(
    ("at", "value", "sentence"),
    [
        ("properties", {"a": ANSWER["properties"]["a"]}, "n: optional integer before, now gone"),
        ("properties/n", {"type": "string"}, "n: optional integer before, now optional string"),
        ("properties/n/anyOf", [{"type": "integer"}, {"type": "null"}], "now optional integer|nul"),
        ("required", [], "a: always list of string before, now optional list of string"),
        ("$defs/A/items/enum", ["x"], "a[]=y: word before, now gone"),
        ("$defs/A/items", {"type": "integer"}, "a: always list of string before, now always list"),
    ],
)  # fmt: skip
def test_what_is_lost_or_becomes_another_type_is_told(at: str, value: Any, sentence: str) -> None:
    assert any(sentence in one for one in broken(ANSWER, changed(at, value), entry=False))


def test_additions_pass_but_an_entry_demands_nothing_new() -> None:
    more = ANSWER["properties"] | {"z": {"type": "string"}}
    assert broken(ANSWER, changed("properties", more), entry=True) == []
    assert broken(ANSWER, changed("$defs/A/items/enum", ["x", "y", "z"]), entry=True) == []
    demanding = changed("properties", more) | {"required": ["a", "z"]}
    assert broken(ANSWER, demanding, entry=False) == []
    assert broken(ANSWER, demanding, entry=True) == [
        "z: demanded of entries that never had it"
    ]  # fmt: skip


def test_the_command_lists_the_schemas_and_shows_each(run_logbook: Callable[..., Ran]) -> None:
    listed = run_logbook("schema")
    assert (listed.code, listed.out.split()) == (0, sorted(MADE))
    for name in MADE:
        shown = run_logbook("schema", name)
        assert (shown.code, shown.err, shown.out) == (0, "", path_of(name).read_text("utf-8"))


@pytest.mark.parametrize("name", ["due", "due/2", "../errors", "entry/../due/1", "", "DUE/1", "٧"])
def test_a_schema_that_there_is_not_is_told_with_those_that_are(
    name: str, run_logbook: Callable[..., Ran]
) -> None:
    ran = run_logbook("schema", name)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(f"Not done, nothing saved: there is no schema {name}; known are ")
