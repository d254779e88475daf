"""Tables for a stranger's program: CSV files, and what is said of their columns.

The form is that of the Data Package standard, version 2, with its Table Schema
(https://datapackage.org/standard/, read).
"""

import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import TypeAdapter

from logbook.entries import model
from logbook.entries.base import Body
from logbook.sheets.as_csv import csv_line

PROFILES = "https://datapackage.org/profiles/2.0"
Field = dict[str, Any]
Write = Callable[[bytes], object]
"""What adds a piece to a file."""
Into = Callable[[str], Write]
"""What begins a file by its name."""
HEADER: list[Field] = [
    {"name": "entry", "type": "integer", "description": "The number of the entry."},
    {"name": "happened_at", "type": "datetime"},
    {"name": "recorded_at", "type": "datetime"},
    {"name": "by", "type": "string", "description": "The initials of who signed."},
    {
        "name": "corrected_by", "type": "integer",
        "description": "The entry that gave it the content that stands here.",
    },
]  # fmt: skip
"""The columns that every table of entries begins with."""
_PLAIN: Mapping[str, str] = {"integer": "integer", "boolean": "boolean", "object": "object"}
_TIMES: Mapping[str, str] = {"date-time": "datetime", "date": "date"}


@dataclass(frozen=True, slots=True)
class Table:
    """A table by its name, with the columns it has; its lines are written as they are added."""

    name: str
    title: str
    fields: list[Field]
    write: Write

    @classmethod
    def begun(cls, name: str, title: str, fields: list[Field], into: Into) -> "Table":
        """A table in a file of its own, of which the line of its columns is written."""
        table = cls(name, title, fields, into(_path(name)))
        table.write(csv_line([one["name"] for one in fields]).encode())
        return table

    @property
    def path(self) -> str:
        """The name of its file."""
        return _path(self.name)

    def add(self, row: Mapping[str, Any]) -> None:
        """Add a row, in the types that JSON has."""
        self.write(csv_line([row.get(one["name"]) for one in self.fields]).encode())


def _path(name: str) -> str:
    return f"tables/{name}.csv"


def fields_of(row: type) -> list[Field]:
    """The columns that a row of a sheet has."""
    schema = TypeAdapter(row).json_schema(mode="serialization")
    return _fields(schema)


def fields_of_kind(kind: str) -> list[Field]:
    """The columns that the entries of a kind have."""
    told = _fields(model(kind).model_json_schema())
    return HEADER + [one | {"name": _column(one["name"])} for one in told]


def entry_row(header: tuple[int, str, str, str, int | None], body: Body) -> dict[str, Any]:
    """The row of an entry: the columns of ``HEADER``, then what it says."""
    told = body.model_dump(mode="json", exclude_none=True)
    return dict(zip(_HEADER_NAMES, header, strict=True)) | {
        _column(name): value for name, value in told.items()
    }


_HEADER_NAMES = [one["name"] for one in HEADER]


def _column(name: str) -> str:
    """A correction tells time and initials of another entry: they are no second ones of its own."""
    return f"told_{name}" if name in _HEADER_NAMES else name


def _fields(schema: dict[str, Any]) -> list[Field]:
    whole = schema.get("$defs", {})
    return [
        {"name": name, **_type(whole, part)} for name, part in schema.get("properties", {}).items()
    ]


def _type(whole: Mapping[str, Any], part: Mapping[str, Any]) -> Field:
    """The type of a column; what may be left out is an empty cell."""
    while "$ref" in part:
        part = whole[part["$ref"].rpartition("/")[2]]
    kinds = [one for one in part.get("anyOf", ()) if one.get("type") != "null"]
    if kinds:
        return _type(whole, kinds[0])
    told = part.get("type")
    if told == "array":
        inner = _type(whole, part.get("items", {}))["type"]
        if inner in ("object", "list", "array"):
            return {"type": "array"}
        return {"type": "list", "delimiter": " ", "itemType": inner}
    if part.get("format") in _TIMES:
        return {"type": _TIMES[part["format"]]}
    # Exact numbers are kept as text, and told from names by what they allow.
    if told == "string" and re.search(part.get("pattern", "^$"), "-2.5"):
        return {"type": "number"}
    return {"type": _PLAIN.get(str(told), "string")}


def descriptor(name: str, title: str, tables: Sequence[Table], sums: Mapping[str, str]) -> bytes:
    """What ``datapackage.json`` says of the tables; ``sums`` are their SHA-256 by path."""
    resources = [
        {
            "name": one.name.replace("_", "-"), "path": one.path, "title": one.title,
            "type": "table", "format": "csv", "mediatype": "text/csv", "encoding": "utf-8",
            "hash": f"sha256:{sums[one.path]}",
            "schema": {"$schema": f"{PROFILES}/tableschema.json", "fields": one.fields},
        }
        for one in tables
    ]  # fmt: skip
    told = {
        "$schema": f"{PROFILES}/datapackage.json", "name": name, "title": title,
        "resources": resources,
    }  # fmt: skip
    return (json.dumps(told, ensure_ascii=False, indent=2) + "\n").encode()
