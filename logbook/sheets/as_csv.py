"""Rows for a table program: one line each, in UTF-8."""

import csv
import io
import json
from collections.abc import Mapping, Sequence
from typing import Any

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What makes a table program take a cell for a formula (OWASP, CSV Injection, from memory)."""


def as_csv(rows: Sequence[Mapping[str, Any]], *, plain: bool = False) -> str:
    """Rows with all their columns, in the types that JSON has; lists stand as words in a cell,
    what is more than a list as JSON.

    What a table program would run has a quote before it, unless ``plain`` is asked for by another
    program.
    """
    columns = list(dict.fromkeys(name for row in rows for name in row))
    return csv_line(columns) + "".join(
        csv_line([row.get(name) for name in columns], plain=plain) for row in rows
    )


def csv_line(cells: Sequence[Any], *, plain: bool = False) -> str:
    """One line of such a table (RFC 4180)."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([_cell(one, plain=plain) for one in cells])
    return text.getvalue()


def _cell(value: Any, *, plain: bool) -> str:
    if value is None:
        return ""
    text = _text(value)
    return text if plain or not text.startswith(FORMULA) or _is_number(text) else f"'{text}"


def _text(value: Any) -> str:
    parts = value if isinstance(value, list) else [value]
    if any(isinstance(one, dict) for one in parts):
        return json.dumps(value, ensure_ascii=False, sort_keys=True)
    if isinstance(value, bool):
        return "true" if value else "false"
    return " ".join(str(one) for one in parts)


def _is_number(text: str) -> bool:
    return text[1:].replace(".", "", 1).isdecimal() and text.isascii() and text[0] in "+-"
