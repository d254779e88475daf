"""What a person gave for an item, at whatever door, becomes an answer here and nowhere else."""

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import NamedTuple, get_args

from logbook.checklists.model import Answer, Item, State
from logbook.errors import InputError
from logbook.times import parse_duration_s
from logbook.units import (
    format_decimal,
    parse_decimal,
    parse_flow_ml_min,
    parse_mass_g,
    parse_pressure_cmh2o,
    parse_pressure_psi,
    parse_volume_ml,
    require_pipeline,
    shown,
)
from logbook.vocabulary import (
    CANISTER_G,
    FLOW_ML_MIN,
    GAUGE_PSI,
    LIQUID_ML,
    MEASURED,
    MOST_WORDS,
    PRESSURE_CMH2O,
    Bounds,
)

FIELDS = ("state", "value", "held_s", "pressure", "end_pressure", "reason")
"""What can be said of an item, each as a text."""


class _Scale(NamedTuple):
    read: Callable[[str, str], Decimal]
    bounds: Bounds


_SCALES = {
    "psi": _Scale(parse_pressure_psi, GAUGE_PSI),
    "mL/min": _Scale(parse_flow_ml_min, FLOW_ML_MIN),
    "g": _Scale(parse_mass_g, CANISTER_G),
    "cmH2O": _Scale(parse_pressure_cmh2o, PRESSURE_CMH2O),
    "mL": _Scale(parse_volume_ml, LIQUID_ML),
}
"""How a number with its unit is read, and what it can be, by the unit of the item."""
_OTHER = _Scale(parse_decimal, MEASURED)


def answer_in_words(item: Item, text: str) -> Answer:
    """The answer that one text says: ``passed``, ``fresh``, ``150 mL/min``, ``12 s``.

    Raises:
        InputError: it says nothing about such an item.
    """
    said = text.strip()
    if item.kind == "choice" and (chosen := _chosen(item, said)):
        return Answer(value=chosen)
    if said.lower() in get_args(State):
        return answer_in_fields(item, {"state": said.lower()})
    if item.kind == "choice":
        raise InputError(
            f"{shown(text)} is none of the choices; type a number from 1 to {len(item.choices)}, "
            f"or one of: {', '.join(item.choices)}"
        )
    said, begin, end = _pressures(item, said)
    if item.kind == "hold" or (item.or_hold and said.lower().endswith("s")):
        held_s = _seconds(item, said)
        return Answer(held_s=held_s, timed=False, pressure_cmh2o=begin, end_pressure_cmh2o=end)
    if item.kind == "tick":
        states = ", ".join(get_args(State))
        raise InputError(f"item {item.key} cannot be {shown(text)}; say one of: {states}")
    return Answer(value=_measured(item, said), unit=item.unit, pressure_cmh2o=begin)


def answer_with_reason(item: Item, text: str) -> Answer:
    """The answer that one text says, with its reason after a colon: ``not done: no time``.

    Raises:
        InputError: it says nothing about such an item.
    """
    said, _, reason = text.partition(":")
    if said.strip().lower() in get_args(State):
        return answer_in_fields(item, {"state": said.strip().lower(), "reason": reason})
    return answer_in_words(item, text)


def answer_in_fields(item: Item, told: Mapping[str, object]) -> Answer:
    """The answer that is told field by field, each as a text (``FIELDS``).

    Raises:
        InputError: a field is unknown, no text, or says nothing about such an item.
    """
    given: dict[str, str] = {}
    for field, value in told.items():
        if field not in FIELDS:
            known = ", ".join(FIELDS)
            raise InputError(f"the item {item.key} has no {shown(field)}; known are {known}")
        if not isinstance(value, str):
            raise InputError(f"the item {item.key} has a {field} that is no text; write it as text")
        given[field] = value
    value, held = given.get("value"), given.get("held_s")
    begin, end = (
        read_pressure(item, given[name]) if name in given else None
        for name in ("pressure", "end_pressure")
    )
    if value is not None and item.kind != "choice":
        value, beside, _ = _pressures(item, value)
        begin = begin or beside
    unit = item.unit if value is not None and item.kind != "choice" else None
    return Answer(
        state=_state(item, given.get("state")),
        value=value if value is None or item.kind == "choice" else _measured(item, value),
        unit=unit,
        reason=_reason(item, given.get("reason")),
        held_s=None if held is None else _seconds(item, held),
        timed=None if held is None else False,
        pressure_cmh2o=begin,
        end_pressure_cmh2o=end,
    )


def read_pressure(item: Item, text: str) -> str:
    """A pressure of a test as it was read, in cmH2O as plain digits; a bare number counts so.

    Raises:
        InputError: it is no pressure that a breathing system has.
    """
    bare = text.strip()
    value = (
        parse_decimal(bare, item.key) if _is_bare(bare) else parse_pressure_cmh2o(bare, item.key)
    )
    if not PRESSURE_CMH2O.least < value <= PRESSURE_CMH2O.most:
        raise InputError(
            f"{item.key} was tested at {shown(text)}; a pressure read is above 0, and at most "
            f"{PRESSURE_CMH2O.most:f} cmH2O"
        )
    return format_decimal(value)


_PRESSURES = re.compile(
    r"(?P<measured>.*?\S)\s+(?:at|from)\s+(?P<begin>[0-9.]+\s*[A-Za-z0-9]*?)"
    r"(?:\s+to\s+(?P<end>[0-9.]+\s*[A-Za-z0-9]*))?",
    re.IGNORECASE,
)


def _pressures(item: Item, text: str) -> tuple[str, str | None, str | None]:
    """What was measured, and the pressures told behind it: ``150 mL/min at 30 cmH2O``, and of a
    timed fall ``10 s from 30 to 29 cmH2O``."""
    parts = _PRESSURES.fullmatch(text.strip()) if item.pressure else None
    if parts is None:
        return text, None, None
    begin, end = read_pressure(item, parts["begin"]), parts["end"]
    return parts["measured"], begin, read_pressure(item, end) if end else None


def _state(item: Item, text: str | None) -> State | None:
    for state in get_args(State):
        if text == state:
            return state  # type: ignore[no-any-return]
    if text is None:
        return None
    states = ", ".join(get_args(State))
    raise InputError(f"item {item.key} cannot be {shown(text)}; say one of: {states}")


def _reason(item: Item, text: str | None) -> str | None:
    reason = (text or "").strip()
    if len(reason) > MOST_WORDS:
        raise InputError(
            f"item {item.key} has a reason of {len(reason)} characters; write at most {MOST_WORDS}"
        )
    return reason or None


def _chosen(item: Item, text: str) -> str | None:
    """A choice by its word, or by its number from 1 on; None for anything else."""
    if text.isascii() and text.isdigit() and 1 <= int(text) <= len(item.choices):
        return item.choices[int(text) - 1]
    return next((word for word in item.choices if word.lower() == text.lower()), None)


def _seconds(item: Item, text: str) -> int:
    """Whole seconds of a hold; a bare number counts seconds."""
    bare = text.strip()
    if bare.isascii() and bare.isdigit() and len(bare) <= 4:
        return int(bare)
    return parse_duration_s(bare, item.key)


def _measured(item: Item, text: str) -> str:
    """The value in the item's unit, as plain digits; a bare number is in that unit already."""
    unit = item.unit or ""
    value, scale = number_in(unit, text, item.key), _SCALES.get(unit, _OTHER)
    if item.reads == "pipeline":
        require_pipeline(value, text, item.key)
    if not scale.bounds.least <= value <= scale.bounds.most:
        beyond = "more" if value > scale.bounds.most else "less"
        raise InputError(
            f"{item.key} {format_decimal(value)} {unit} is {beyond} than any gauge shows; "
            "check the number and its unit"
        )
    return format_decimal(value)


def number_in(unit: str, text: str, what: str) -> Decimal:
    """A number in a unit of an item or a limit; a bare one is in that unit already.

    >>> number_in("psi", "100bar", "gauge"), number_in("psi", "50", "gauge")
    (Decimal('1450.377'), Decimal('50'))

    Raises:
        InputError: it is no number, or in a unit of another kind.
    """
    bare = text.strip()
    if unit and bare.lower().endswith(unit.lower()):
        bare = bare[: -len(unit)].strip()
    scale = _SCALES.get(unit, _OTHER)
    if scale is _OTHER or _is_bare(bare):
        return parse_decimal(bare, what)
    # Only a number in its unit tells what a comma means.
    return scale.read(f"{bare}{unit}" if _is_bare(bare.replace(",", "")) else text, what)


def _is_bare(text: str) -> bool:
    return bool(text) and all(sign in "0123456789.-+" for sign in text)
