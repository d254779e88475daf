"""What commands print and what ledgers hold fits the schemas, judged by a validator of others.

Source of the rules: JSON Schema, draft 2020-12 (https://json-schema.org/draft/2020-12), by the
library jsonschema.
"""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from logbook.ledger.store import stored_rows
from logbook.recording.opening import reading, writing
from tests.cli.test_commands import SCHEMAS
from tests.conftest import Ran
from tests.ledger.scribe import Scribe
from tests.ledger.test_released_ledgers import FIXTURES, HEADS
from tests.ledger.weeks import busy_week
from tests.schemas.making import made, path_of

jsonschema = pytest.importorskip("jsonschema")


def faults(name: str, value: object) -> list[str]:
    """What of a value does not fit the schema of that name."""
    schema = json.loads(path_of(name).read_text("utf-8"))
    judge = jsonschema.Draft202012Validator(
        schema, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    return [f"{one.json_path}: {one.message}" for one in judge.iter_errors(value)]


@pytest.mark.parametrize("name", made())
def test_a_schema_is_one(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(json.loads(path_of(name).read_text("utf-8")))


@pytest.mark.parametrize("words", SCHEMAS)
@pytest.mark.parametrize("released", [None, *HEADS])
def test_what_a_command_prints_fits_its_schema(
    words: str, released: str | None, ledger: Path, run_logbook: Callable[..., Ran]
) -> None:
    if released:
        ledger.write_bytes((FIXTURES / f"{released}.ledger").read_bytes())
    else:
        with writing(ledger) as book:
            busy_week(Scribe(book))
    line, schema, _ = SCHEMAS[words]
    more = ["--since", "2026-01-01"] if words in ("case list", "history") else []
    if words == "reference show":
        case = ["--began", "2026-03-06T05:00", "--ran", "9min", "--reference", "C-17"]
        told = run_logbook("case", "log", "bay1", *case)
        line = f"reference show {told.out.partition('Saved entry ')[2].partition(':')[0]}"
    ran = run_logbook(*line.split(), *more, "--json")
    assert ran.json["schema"] == schema
    assert faults(schema, ran.json) == []


def test_every_stored_entry_fits_the_schema_of_its_kind(ledger: Path) -> None:
    with writing(ledger) as book:
        busy_week(Scribe(book))
        rows = list(stored_rows(book.connection))
    for version in HEADS:
        ledger.write_bytes((FIXTURES / f"{version}.ledger").read_bytes())
        with reading(ledger) as book:
            rows += stored_rows(book.connection)
    assert [
        (row.kind, fault)
        for row in rows
        for fault in faults(f"entry/{row.kind}", json.loads(row.body))
    ] == []


def test_a_value_that_does_not_fit_is_found() -> None:
    assert faults("entry/agent_level", {"vaporizer": "iso1", "level_ml": "3.5"}) == []
    for wrong in ({"level_ml": 3.5}, {"level_ml": "many"}, {"vaporizer": "ISO 1"}, {"more": 1}):
        assert faults("entry/agent_level", {"vaporizer": "iso1", "level_ml": "3.5"} | wrong) != []
