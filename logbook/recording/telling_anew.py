"""Reading what a field of an entry should have said, as a person writes it."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal

from logbook.answers.changeable import Changeable, changeable, is_switch
from logbook.arithmetic.calendar import rhythm_of
from logbook.entries.base import Body
from logbook.entries.explaining import UNITS
from logbook.errors import InputError
from logbook.recording.opening import Book
from logbook.times import parse_day
from logbook.units import (
    format_decimal,
    parse_air_kpa,
    parse_altitude_m,
    parse_decimal,
    parse_flow_ml_min,
    parse_mass_g,
    parse_percent,
    parse_pipeline_psi,
    parse_pressure_cmh2o,
    parse_pressure_psi,
    parse_volume_ml,
    shown,
)
from logbook.vocabulary import CIRCUITS, circuit_word

YES, NO = ("yes", "true", "open", "1"), ("no", "false", "shut", "0")

_READERS: dict[str, Callable[[str, str], Decimal]] = {
    "_ml_min": parse_flow_ml_min,
    "_ml": parse_volume_ml,
    "_g": parse_mass_g,
    "_psi": parse_pressure_psi,
    "_cmh2o": parse_pressure_cmh2o,
    "_percent": parse_percent,
    "_kpa": parse_air_kpa,
    "_m": parse_altitude_m,
}


def told_anew(
    body: Body, book: Book, now: datetime, word: str, text: str
) -> tuple[str, str | bool | None]:
    """The field that a person names, and the value that is written for it; empty takes it out.

    A field is known by the words that ``changeable`` gives, or by its name in the history's JSON,
    in whose unit a bare number is.

    Raises:
        InputError: the entry has no such field, or the value cannot be read.
    """
    known = changeable(body, book.zone)
    called = word.strip().lower()
    found = [one for one in known if called in (one.field, one.words.lower())]
    if not found:
        told = ", ".join(f"{one.words} ({one.now or 'not told'})" for one in known)
        raise InputError(f"{shown(word)} is nothing that this entry tells", f"it tells {told}")
    [one] = found
    if not text.strip():
        return one.field, None
    return one.field, _read(one, body, book, now, text, plain=called == one.field)


def _read(
    one: Changeable, body: Body, book: Book, now: datetime, text: str, *, plain: bool
) -> str | bool:
    field, said = one.field, text.strip()
    end = next((end for end in UNITS if field.endswith(end)), None)
    if end in _READERS and not (plain and _is_bare(said)):
        reader = parse_pipeline_psi if field == "pipeline_psi" else _READERS[end]
        return format_decimal(reader(said, one.words))
    if end is not None:
        bare = said.lower().removesuffix(UNITS[end].strip().lower())
        return format_decimal(parse_decimal(bare, one.words))
    if field in ("expiry", "last"):
        return parse_day(said, book.zone, now, one.words, order=book.clinic.date_order).isoformat()
    if is_switch(body, field):
        return _yes_or_no(one, said)
    if field == "every":
        return rhythm_of(said)
    if field == "circuit":
        return CIRCUITS.get(circuit_word(said) or said.lower(), said)
    return said


def _is_bare(text: str) -> bool:
    return all(sign in "0123456789.-+" for sign in text)


def _yes_or_no(one: Changeable, said: str) -> bool:
    for words, means in ((YES, True), (NO, False)):
        if said.lower() in words:
            return means
    raise InputError(f"{one.words} {shown(said)} is neither yes nor no", "write one of them")
