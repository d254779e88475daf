"""Answers as JSON: one object that names its schema; keys are only ever added within a number."""

import json
from collections.abc import Mapping
from dataclasses import Field, fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from logbook.sheets.sheet import Sheet
from logbook.times import utc_text
from logbook.units import format_decimal


def as_json(sheet: Sheet) -> str:
    """A sheet as text. Decimals become strings, instants UTC with ``Z``, days ISO 8601."""
    return json.dumps(content(sheet), ensure_ascii=False, indent=2)


def content(sheet: Sheet) -> dict[str, Any]:
    """A sheet in the types that JSON has, with the name of its schema first."""
    told = {key(one): plain(getattr(sheet, one.name)) for one in sheet.content()}
    return {"schema": sheet.schema} | told


def key(field: "Field[Any]") -> str:
    """The key of a field; one that Python keeps for itself has a line behind it there."""
    return field.name.removesuffix("_")


def plain(value: Any) -> Any:
    """A value in the types that JSON has."""
    if is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, Decimal):
        return format_decimal(value)
    if isinstance(value, datetime):
        return utc_text(value)
    if isinstance(value, date):
        return value.isoformat()
    return value
