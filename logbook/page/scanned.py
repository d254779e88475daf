"""What a scanner types from a package: a GS1 element string, of which lot and expiry are taken.

The rules are those of the GS1 General Specifications as GS1's own Barcode Syntax Dictionary and its
reference checks tell them (GS1 AISBL, 2022-2024, read): fields begin with their application
identifier; those of a set length follow one another, any other ends with a separator or the string.
"""

import re
from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from logbook.errors import InputError
from logbook.units import shown

GTIN, LOT, EXPIRY = "01", "10", "17"
"""The application identifiers that are looked at; what else is there is passed over."""
SET_LENGTHS = {"00": 18, "01": 14, "02": 14, "20": 2, "41": 14} | {
    **dict.fromkeys(("11", "12", "13", "15", "16", "17"), 6),
    **dict.fromkeys(("31", "32", "33", "34", "35", "36"), 8),
}
"""Signs after the first two of an identifier, where their number is set. Source: GS1 Barcode Syntax
Dictionary, the identifiers that need no separator (read)."""
LONGEST_LOT = 20
"""Source: GS1 Barcode Syntax Dictionary, identifier 10 is X..20 (read)."""
_PREFIX = re.compile(r"\](?:C1|d2|Q3|e0|J1)")
"""What a scanner sets before the codes of GS1 (ISO/IEC 15424, from memory)."""
_SEPARATORS = re.compile(r"<GS>|\{GS\}|[\x1d\u241d|~^#@$]")
"""The separator itself, and what scanners can be set to type for it: none of these signs may stand
in a field (character set 82, read)."""
_BRACKETS = re.compile(r"\(([0-9]{2,4})\)")
_FIELD = re.compile(r"[!\"%-?A-Z_a-z]+", re.ASCII)
_A_DATE = re.compile(r"(?<=.)(?=1[1-7]([0-9]{6}))", re.ASCII)
BY_HAND = "type lot and expiry by hand"


@dataclass(frozen=True, slots=True)
class Package:
    """What a package says of itself, as far as it says it."""

    lot: str | None
    expiry: date | None


def read_package(typed: str, today: date) -> Package:
    """Read what a scanner typed.

    >>> read_package("(01)05060917510011(17)271200(10)628S93R", date(2026, 3, 6))
    Package(lot='628S93R', expiry=datetime.date(2027, 12, 31))

    Raises:
        InputError: it is no element string, says neither lot nor expiry, or lacks the separator
            without which nobody knows where its lot ends.
    """
    fields = dict(_fields(typed.strip()))
    ends_told = _BRACKETS.match(typed.strip()) or EXPIRY in fields
    if GTIN in fields and not _gtin_is_right(fields[GTIN]):
        raise _misread(typed, "its article number does not bear out its check digit")
    lot, day = fields.get(LOT), fields.get(EXPIRY)
    if lot is None and day is None:
        raise InputError(f"{shown(typed)} tells neither lot nor expiry", BY_HAND)
    if lot is not None and (
        len(lot) > LONGEST_LOT or (not ends_told and _holds_a_date(lot, today))
    ):
        raise InputError(
            f"the scanner left out what ends the lot in {shown(typed)}",
            f"{BY_HAND}, and set the scanner to type | for the separator",
        )
    return Package(lot, _day(day, today, typed) if day is not None else None)


def is_package(typed: str) -> bool:
    """Whether something looks like the code of a package rather than like a tag."""
    return typed.startswith((f"{GTIN}0", f"({GTIN})", "]")) and len(typed) > LONGEST_LOT


def _fields(text: str) -> Iterator[tuple[str, str]]:
    """The fields by identifier; those that are passed over may be named by its first two digits."""
    if _BRACKETS.match(text):
        parts = _BRACKETS.split(text)
        found = list(zip(parts[1::2], parts[2::2], strict=True))
    else:
        bare = _PREFIX.sub("", text, count=1) if text.startswith("]") else text
        found = [one for part in _SEPARATORS.split(bare) if part for one in _split(part, text)]
    seen: dict[str, str] = {}
    for identifier, value in found:
        if not _FIELD.fullmatch(value) or seen.setdefault(identifier, value) != value:
            raise _misread(text, "it is no GS1 element string")
        yield identifier, value


def _split(part: str, text: str) -> Iterator[tuple[str, str]]:
    """The fields of set length, and behind them at most one of any other."""
    while part:
        identifier, rest = part[:2], part[2:]
        length = SET_LENGTHS.get(identifier, len(rest))
        if not re.fullmatch("[0-9]{2}", identifier, re.ASCII) or not rest or len(rest) < length:
            raise _misread(text, "it is no GS1 element string")
        yield identifier, rest[:length]
        part = rest[length:]


def _misread(text: str, why: str) -> InputError:
    return InputError(f"{shown(text)} was not read: {why}", f"scan it again, or {BY_HAND}")


def _gtin_is_right(gtin: str) -> bool:
    """The check digit: weights of 3 and 1 from the left make a multiple of ten (read)."""
    if not re.fullmatch("[0-9]{14}", gtin, re.ASCII):
        return False
    return sum(int(sign) * (1 if n % 2 else 3) for n, sign in enumerate(gtin)) % 10 == 0


def _holds_a_date(lot: str, today: date) -> bool:
    return any(_calendar_day(found[1], today) for found in _A_DATE.finditer(lot))


def _day(digits: str, today: date, text: str) -> date:
    found = _calendar_day(digits, today)
    if found is None:
        raise _misread(text, f"{shown(digits)} is no day")
    return found


def _calendar_day(digits: str, today: date) -> date | None:
    """A day of six digits; 00 is the last of its month.

    Of the years that end so it is the one from 49 back to 50 ahead (read).
    """
    if not re.fullmatch("[0-9]{6}", digits, re.ASCII):
        return None
    year, month, day = (int(digits[at : at + 2]) for at in (0, 2, 4))
    first = today.year - 49
    year = first + (year - first) % 100
    try:
        return date(year, month, day or monthrange(year, month)[1])
    except ValueError:
        return None
