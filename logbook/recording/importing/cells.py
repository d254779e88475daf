"""Reading the cells of one row: every cell that does not fit is told, not the first alone."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from logbook.errors import InputError
from logbook.recording.importing.files import Read, Row
from logbook.times import parse_day, parse_duration_s, parse_instant
from logbook.units import (
    parse_flow_ml_min,
    parse_mass_g,
    parse_percent,
    parse_pipeline_psi,
    parse_pressure_psi,
    parse_volume_ml,
    shown,
)
from logbook.vocabulary import CIRCUITS, CircuitWord, circuit_word

DAY_BEGINS = time(0)
"""What is told by its day alone counts from midnight, so that all use of that day counts."""

_ISO = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})(?![0-9])(.*)", re.DOTALL)
_DOTTED = re.compile(r"([0-9]{1,2})\.([0-9]{1,2})\.((?:[0-9]{2}){1,2})(?![0-9])(.*)", re.DOTALL)
_SLASHED = re.compile(
    r"([0-9]{1,2})[/-]([0-9]{1,2})[/-]((?:[0-9]{2}){1,2})(?![0-9])(.*)", re.DOTALL
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NAMED = re.compile(
    r"(?:[a-z]{3,9},? +)?(?:(?P<day>[0-9]{1,2})[-. ]+(?P<month>[a-z]{3,9})\.?"
    r"|(?P<first>[a-z]{3,9})\.? +(?P<second>[0-9]{1,2}))[-, ]+(?P<year>(?:[0-9]{2}){1,2})"
    r"(?![0-9])(?P<rest>.*)",
    re.IGNORECASE | re.DOTALL,
)
"""A date with its month in English: 2-Mar-26, Mon, March 2, 2026."""
_CLOCKED = re.compile(r"([0-9]{1,4}):([0-5][0-9]):([0-5][0-9])")
_BARE = re.compile(r"[0-9.,+-]+")
_THOUSANDS = re.compile(r"[0-9]{1,3}\.[0-9]{3}(?![0-9])")


@dataclass(frozen=True, slots=True)
class Cells:
    """The filled cells of a row, and what is needed to read them."""

    row: Row
    read: Read
    zone: ZoneInfo
    now: datetime
    faults: list[InputError] = field(default_factory=list)

    def values(self, readers: "dict[str, Reader]", needed: Iterable[str]) -> dict[str, Any]:
        """What each cell says, by its column; what cannot be read stands in ``faults``."""
        if self.row.misfit is not None:
            self.faults.append(self.row.misfit)
            return {}
        values = {}
        for name in self.row.told:
            try:
                values[name] = readers[name](self, name)
            except InputError as error:
                self.faults.append(error)
        for name in needed:
            if name not in self.row.told:
                self.faults.append(InputError(f"the cell {name} is empty", "fill it in"))
        return values

    def text(self, name: str) -> str:
        """A cell as it is written."""
        return self.row.told[name]

    def tag(self, name: str) -> str:
        """The tag of a unit, which has no capitals and no blanks."""
        return self.text(name).lower().replace(" ", "")

    def initials(self, name: str) -> str:
        """Initials, in capitals however a hand wrote them."""
        text = self.text(name)
        return text.upper() if text.isascii() else text

    def small(self, name: str) -> str:
        """A word of a closed list, in small letters."""
        return " ".join(self.text(name).lower().split())

    def capitals(self, name: str) -> str:
        """A letter of a closed list."""
        return self.text(name).upper()

    def one_of(self, name: str, known: Iterable[str]) -> str:
        """One of the known words.

        Raises:
            InputError: it is none of them.
        """
        word = self.small(name)
        if word not in known:
            told = shown(self.text(name))
            raise InputError(f"{name} {told} is not known", f"write {' or '.join(known)}")
        return word

    def circuit(self, name: str) -> CircuitWord:
        """A circuit, by our word for it or another word of the trade."""
        return CIRCUITS[circuit_word(self.text(name)) or self.one_of(name, CIRCUITS)]

    def yes_or_no(self, name: str) -> bool:
        """A switch."""
        return self.one_of(name, ("yes", "no")) == "yes"

    def number(self, name: str, parse: "Callable[[str, str], Decimal]") -> Decimal:
        """A quantity; a bare number is in the unit that the column has."""
        text = self._with_point(name) if self.read.comma else self.text(name)
        unit = self.read.units.get(name, "")
        return parse(f"{text}{unit}" if unit and _BARE.fullmatch(text) else text, name)

    def _with_point(self, name: str) -> str:
        """A number of a file that writes 1.800,5 as one with a point before its decimals."""
        text = self.text(name)
        if "," not in text and _THOUSANDS.match(text):
            raise InputError(
                f"{name} {shown(text)} can be read in two ways, as this file writes a comma before "
                "decimals",
                f"write {text.replace('.', '', 1)} or {text.replace('.', ',', 1)}",
            )
        return text.replace(".", "").replace(",", ".") if "," in text else text

    def lasting(self, name: str) -> int:
        """A duration, in seconds; 1:35:00 is what a spreadsheet makes of one."""
        text, unit = self.text(name), self.read.units.get(name, "")
        if clocked := _CLOCKED.fullmatch(text):
            text = f"{clocked[1]}h{clocked[2]}min{clocked[3]}s"
        return parse_duration_s(f"{text}{unit}" if text.isdigit() else text, name)

    def instant(self, name: str, day_alone_at: time | None = None) -> datetime:
        """A time with its date: in a file, "today" would mean another day at each import."""
        return parse_instant(
            self._dated(name), self.zone, self.now, name, day_alone_at=day_alone_at,
            order=self.read.date_order,
        )  # fmt: skip

    def moment(self, name: str) -> datetime:
        """A time, or a day alone, which counts from its beginning."""
        return self.instant(name, DAY_BEGINS)

    def ending(self, name: str) -> datetime | None:
        """An end; without its date it is one of the day on which the case began, None where that
        cannot be read."""
        try:
            began_at = self.instant("began")
        except (InputError, KeyError):
            return None
        text = self.text(name)
        told = self._dated(name) if _has_date(_month_by_number(text)) else text
        return parse_instant(told, self.zone, began_at, name, order=self.read.date_order)

    def day(self, name: str) -> date:
        """A date."""
        return parse_day(self._dated(name), self.zone, self.now, name, order=self.read.date_order)

    def _dated(self, name: str) -> str:
        """A time of which the date is written as the readers of times know it."""
        text = _month_by_number(self.text(name))
        if iso := _ISO.fullmatch(text):
            return f"{iso[1]}-{iso[2]:0>2}-{iso[3]:0>2}{iso[4]}"
        if dotted := _DOTTED.fullmatch(text):
            # A date with points has its day first (Unicode CLDR's short dates of these countries).
            year = dotted[3] if len(dotted[3]) == 4 else f"20{dotted[3]}"
            return f"{year}-{dotted[2]:0>2}-{dotted[1]:0>2}{dotted[4]}"
        if slashed := _SLASHED.fullmatch(text):
            return f"{slashed[1]}/{slashed[2]}/{slashed[3]}{slashed[4]}"
        raise InputError(
            f"{name} {shown(text)} does not begin with a date", "write it like 2026-03-02 07:30"
        )


def _month_by_number(text: str) -> str:
    """A time of which the month is told by its number; other texts as they are."""
    named = _NAMED.fullmatch(text)
    month = (named["month"] or named["first"])[:3].lower() if named else ""
    if named is None or month not in _MONTHS:
        return text
    year, day = named["year"], named["day"] or named["second"]
    full_year = year if len(year) == 4 else f"20{year}"
    return f"{full_year}-{_MONTHS.index(month) + 1:02}-{day:0>2}{named['rest']}"


def _has_date(text: str) -> bool:
    return any(pattern.fullmatch(text) for pattern in (_ISO, _DOTTED, _SLASHED))


Reader = Callable[[Cells, str], Any]
"""How a cell of one column is read."""


def _quantity(parse: Callable[[str, str], Decimal]) -> Reader:
    return lambda cells, name: cells.number(name, parse)


TAG, TEXT, SMALL, BY = Cells.tag, Cells.text, Cells.small, Cells.initials
MASS, FLOW, PERCENT = (
    _quantity(parse_mass_g),
    _quantity(parse_flow_ml_min),
    _quantity(parse_percent),
)
GAUGE, PIPELINE = _quantity(parse_pressure_psi), _quantity(parse_pipeline_psi)
VOLUME = _quantity(parse_volume_ml)
