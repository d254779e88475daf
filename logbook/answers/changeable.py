"""What of an entry a correction can change: each field in a person's words, and what it says."""

from datetime import datetime
from decimal import Decimal
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from logbook.entries.base import Body
from logbook.entries.explaining import field_words
from logbook.times import local_text
from logbook.units import format_decimal

STANDS = frozenset(
    {
        "checklist",
        "version",
        "answers",
        "begun",
        "again_of",
        "paper",
        "case_entry",
        "text",
        "door",
        "reference_digest",
    }
)
"""What no correction changes as one value: another list would ask other things, and answers of a
check have words of their own."""
ALL_THE_SAME = {("note", "text")}
"""What can be changed all the same, by kind and field."""


class Changeable(NamedTuple):
    """A field of an entry: its name, what a person calls it, and what it says now."""

    field: str
    words: str
    now: str | None


def changeable(body: Body, zone: ZoneInfo) -> list[Changeable]:
    """Every field that can be told anew by one value, in the order of the entry."""
    fields = [name for name in type(body).model_fields if _stands_alone(body, name)]
    called = [field_words(name)[0] for name in fields]
    return [
        # Where two fields share a word, the one with a unit is called with it, too.
        Changeable(
            name,
            words + (field_words(name)[1] if called.count(words) > 1 else ""),
            _shown(name, getattr(body, name), zone) or _apart(body, name),
        )
        for name, words in zip(fields, called, strict=True)
    ]


def is_switch(body: Body, field: str) -> bool:
    """Whether a field says yes or no."""
    return type(body).model_fields[field].annotation in (bool, bool | None)


def _stands_alone(body: Body, field: str) -> bool:
    if (body.kind, field) in ALL_THE_SAME:
        return True
    several = "tuple[" in str(type(body).model_fields[field].annotation)
    return field not in STANDS and not several


def _apart(body: Body, field: str) -> str | None:
    """A reference that is kept beside the chain is not told by the entry itself."""
    told = field == "reference" and getattr(body, "reference_digest", None)
    return "kept apart" if told else None


def _shown(field: str, value: Any, zone: ZoneInfo) -> str | None:
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return local_text(value, zone)
    if isinstance(value, Decimal):
        if field.endswith("_g") and value >= 1000:
            return f"{format_decimal(round(value / 1000, 2))} kg"
        unit = field_words(field)[1].replace(" percent", " %")
        return f"{format_decimal(round(value, 2))}{unit}"
    return str(value)
