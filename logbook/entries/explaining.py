"""Every field of an entry that does not fit, as values and as one sentence."""

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError

from logbook.errors import InputError, Wrong
from logbook.units import format_decimal, shown

TAG = r"^[a-z0-9][a-z0-9_-]{0,23}$"
INITIALS = r"^[A-Z][A-Z0-9]{0,5}$"
COUNTRY = r"^[A-Z]{2}$"
CYLINDER = r"^([DEGHKM]|[0-9]{1,3}(\.[0-9]{1,3})?L)$"
HASH = "^[0-9a-f]{64}$"
DEVICE = r"^[A-Za-z0-9][A-Za-z0-9 ._-]{0,39}$"

UNITS = {
    "_ml_min": " mL/min",
    "_ml_cmh2o": " mL/cmH2O",
    "_ml": " mL",
    "_g": " g",
    "_psi": " psi",
    "_cmh2o": " cmH2O",
    "_percent": " percent",
    "_hours": " h",
    "_kpa": " kPa",
    "_c": " °C",
    "_m": " m",
    "_l": " L",
    "_s": " s",
}
"""The ends of fields' names that tell a unit, the longer first, and how a person writes it."""

_PATTERNS = {
    TAG: "must be 1 to 24 lower-case letters, digits, - or _, such as bay1",
    INITIALS: "must be 1 to 6 capital letters or digits, such as KO",
    COUNTRY: "must be the two letters of a country, such as US",
    CYLINDER: "must be a size such as E, or a water volume such as 4.7L",
    HASH: "must be the 64 digits of a hash",
    DEVICE: "must be 1 to 40 letters, digits, blanks, dots, - or _, such as wall tablet",
}
_WHOLE_NUMBER = "must be a whole number"
_DAY = "must be a day such as 2026-03-02"
_LIST = "must be a list"
_OBJECT = "must be an object of fields"
FIELD, WHOLE = "field_does_not_fit", "fields_do_not_agree"
"""The types of our own errors, which bring their words along."""
WOULD_DO: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    FIELD: lambda at: str(at["would_do"]),
    WHOLE: lambda at: str(at["would_do"]),
    "missing": lambda _: "fill it in",
    "string_too_short": lambda _: "fill it in",
    "string_too_long": lambda at: f"must have at most {at['max_length']} characters",
    "string_pattern_mismatch": lambda at: _PATTERNS[at["pattern"]],
    **dict.fromkeys(("string_type", "string_unicode"), lambda _: "must be text"),
    "literal_error": lambda at: f"must be {at['expected']}",
    "extra_forbidden": lambda _: "there is no such field",
    "greater_than": lambda at: f"must be above {at['gt']}",
    "greater_than_equal": lambda at: f"must be at least {at['ge']}",
    "less_than_equal": lambda at: f"must be at most {at['le']}",
    **dict.fromkeys(
        ("int_type", "int_parsing", "int_parsing_size", "int_from_float", "finite_number"),
        lambda _: _WHOLE_NUMBER,
    ),
    **dict.fromkeys(("bool_type", "bool_parsing"), lambda _: "must be true or false"),
    **dict.fromkeys(
        ("date_type", "date_parsing", "date_from_datetime_parsing", "date_from_datetime_inexact"),
        lambda _: _DAY,
    ),
    **dict.fromkeys(("tuple_type", "list_type"), lambda _: _LIST),
    "too_short": lambda at: f"must hold at least {at['min_length']}",
    **dict.fromkeys(("dict_type", "model_type"), lambda _: _OBJECT),
}
"""What would do, by the type of an error; a test holds every field of every kind against it."""


BOUNDS = {"greater_than", "greater_than_equal", "less_than_equal"}
"""The types that tell a number, which has the unit of its field."""


_NO_NOUN = (" by", " at")
"""How the words of a field end that takes no article, as ``done_by``: they are quoted."""
LARGER = {"g": "kg", "mL/min": "L/min"}
"""Units of which a person writes the thousandfold, where there is so much."""


def said(value: Decimal, unit: str) -> str:
    """A quantity as a person says it: 240 kg, not 240000 g.

    >>> said(Decimal("240000"), "g"), said(Decimal(10), "g"), said(Decimal("2.5"), "")
    ('240 kg', '10 g', '2.5')
    """
    if abs(value) >= 1000 and unit in LARGER:
        value, unit = value / 1000, LARGER[unit]
    return f"{format_decimal(value)} {unit}".rstrip()


def bounds_text(least: Decimal, most: Decimal, unit: str) -> str:
    """The two bounds, each as a person says it; a unit that both have stands once."""
    low, high = said(least, unit), said(most, unit)
    ending = low.removeprefix(format_decimal(least))
    return f"{low.removesuffix(ending) if ending and high.endswith(ending) else low} and {high}"


def field_misfit(would_do: str) -> PydanticCustomError:
    """What a validator of one field raises; ``would_do`` follows on "the field is X, but"."""
    return PydanticCustomError(FIELD, "{would_do}", {"would_do": would_do})


def fields_disagree(would_do: str) -> PydanticCustomError:
    """What a validator of several fields raises; ``would_do`` is a sentence of its own."""
    return PydanticCustomError(WHOLE, "{would_do}", {"would_do": would_do})


def explain(error: ValidationError) -> InputError:
    """All findings of pydantic as values, and the first as one sentence."""
    details = error.errors(include_url=False)
    return InputError(_sentence(details[0]), fields=[_wrong(one) for one in details])


def _wrong(one: ErrorDetails) -> Wrong:
    field = ".".join(str(part) for part in one["loc"])
    given = "" if one["type"] in ("missing", WHOLE) else str(one["input"])
    return Wrong(field, given, _would_do(one))


def _would_do(one: ErrorDetails) -> str:
    would_do = WOULD_DO[one["type"]](one.get("ctx", {}))
    return f"{would_do}{_named(one['loc'])[1]}" if one["type"] in BOUNDS else would_do


def _sentence(one: ErrorDetails) -> str:
    would_do = _would_do(one)
    if one["type"] == WHOLE:
        return would_do
    name, unit = _named(one["loc"])
    name = f"“{name}”" if name.endswith(_NO_NOUN) else f"the {name}"
    if one["type"] == "missing":
        return f"{name} is missing"
    if one["type"] == "string_too_short":
        return f"{name} is empty; {would_do}"
    return f"{name} is {_given(one['input'], unit)}, but {would_do}"


def _given(value: object, unit: str) -> str:
    if isinstance(value, Decimal) and value.is_finite():
        return said(value, unit.strip())
    return f"{shown(str(value))}{unit}"


def field_words(field: str) -> tuple[str, str]:
    """A field as a person calls it, and its unit: ``dial``, `` percent``."""
    end = next((end for end in UNITS if field.endswith(end)), "")
    return field.removesuffix(end).replace("_", " "), UNITS.get(end, "")


def _named(loc: tuple[int | str, ...]) -> tuple[str, str]:
    """A field as a person calls it, and its unit: ``dial of segment 2``, `` percent``."""
    words: list[str] = []
    unit = ""
    for part in loc:
        if isinstance(part, int):
            words[0] = f"{words[0].removesuffix('s')} {part + 1}"
            continue
        word, unit = field_words(part)
        words.insert(0, shown(word))
    return " of ".join(words) or "entry", unit
