"""JSON Schemas of every answer and every entry, made from the classes themselves."""

from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

from pydantic import ConfigDict, create_model

import logbook.sheets
from logbook.entries import KINDS, model
from logbook.sheets.as_json import key
from logbook.sheets.sheet import Sheet

FOLDER = Path(logbook.sheets.__file__).parents[1] / "schemas"
DIALECT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]


def sheets() -> dict[str, type[Sheet]]:
    """The sheet of every answer, by the schema that its JSON names."""
    for file in sorted(Path(logbook.sheets.__file__).parent.glob("[a-z]*.py")):
        import_module(f"logbook.sheets.{file.stem}")
    return {one.schema: one for one in Sheet.__subclasses__()}


def made() -> dict[str, Schema]:
    """Every schema by its name, as it follows from the classes of today."""
    answers = {name: of_answer(one) for name, one in sheets().items()}
    return answers | {f"entry/{kind}": of_entry(kind) for kind in KINDS}


def of_answer(sheet: type[Sheet]) -> Schema:
    """The schema of an answer: of its keys, and of the name that it begins with."""
    keys: dict[str, Any] = {key(one): (one.type, ...) for one in sheet.content()}
    # What a class gives by itself stands in its JSON, too.
    config = ConfigDict(title=sheet.schema, json_schema_serialization_defaults_required=True)
    content = create_model("Answer", __config__=config, **keys)
    schema = content.model_json_schema(mode="serialization")
    named = {"schema": {"const": sheet.schema}} | schema["properties"]
    return _whole(sheet.schema, sheet, schema | {"properties": named, "required": list(named)})


def of_entry(kind: str) -> Schema:
    """The schema of an entry's body, as it is handed in and as it stands in the ledger."""
    return _whole(f"entry/{kind}", model(kind), model(kind).model_json_schema())


def _whole(name: str, of: type, schema: Schema) -> Schema:
    head = {"$schema": DIALECT, "title": name, "description": " ".join((of.__doc__ or "").split())}
    return head | {key: value for key, value in _bare(schema).items() if key not in head}


def _bare(value: Any, *, names: bool = False) -> Any:
    """Without the titles that only repeat a name; ``names`` where the keys are names of fields."""
    if isinstance(value, dict):
        return {
            key: _bare(item, names=key in ("properties", "$defs") and not names)
            for key, item in value.items()
            if names or key not in ("title", "default")
        }
    if isinstance(value, list):
        return [_bare(item) for item in value]
    return " ".join(value.split()) if isinstance(value, str) else value


def path_of(name: str) -> Path:
    """The file of a schema: ``due/1`` stands in ``due/1.json``."""
    return FOLDER / f"{name}.json"


Told = dict[str, str]
"""What a schema says of each key and each word, by the path that leads to it."""


def told(schema: Schema) -> Told:
    """Every key with its type and whether it is always there, and every word of a closed list."""
    return dict(_told(schema, schema, ""))


def _told(whole: Schema, part: Schema, path: str) -> Iterator[tuple[str, str]]:
    part = _followed(whole, part)
    for name, inner in part.get("properties", {}).items():
        here = f"{path}.{name}" if path else name
        always = "always" if name in part.get("required", ()) else "optional"
        yield here, f"{always} {'|'.join(sorted(_types(whole, inner)))}"
        yield from _told(whole, inner, here)
    for word in part.get("enum", [part["const"]] if "const" in part else []):
        yield f"{path}={word}", "word"
    if isinstance(part.get("items"), dict):
        yield from _told(whole, part["items"], f"{path}[]")
    for other in part.get("anyOf", ()):
        yield from _told(whole, other, path)


def _types(whole: Schema, part: Schema) -> set[str]:
    part = _followed(whole, part)
    if "anyOf" in part:
        return {one for other in part["anyOf"] for one in _types(whole, other)}
    if part.get("type") == "array":
        return {f"list of {'|'.join(sorted(_types(whole, part.get('items', {}))))}"}
    kind = part.get("type") or ("string" if "const" in part or "enum" in part else "anything")
    return {f"{kind} {part['format']}" if "format" in part else str(kind)}


def _followed(whole: Schema, part: Schema) -> Schema:
    while "$ref" in part:
        part = whole["$defs"][part["$ref"].rpartition("/")[2]]
    return part


def broken(old: Schema, new: Schema, *, entry: bool) -> list[str]:
    """What of the old schema the new one no longer says; an entry also may demand nothing new."""
    before, after = told(old), told(new)
    lost = [
        f"{path}: {what} before, now {after.get(path, 'gone')}"
        for path, what in before.items()
        # A key that is always there now breaks no reader who knew it as optional.
        if after.get(path) not in (what, what if entry else what.replace("optional", "always", 1))
    ]
    demanded = [
        f"{path}: demanded of entries that never had it"
        for path, what in after.items()
        if entry and path not in before and what.startswith("always") and _known(path, before)
    ]
    return lost + demanded


def _known(path: str, before: Told) -> bool:
    """Whether the object that holds a key was there before."""
    holder = path.rpartition(".")[0].removesuffix("[]")
    return not holder or holder in before
