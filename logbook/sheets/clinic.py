"""The clinic, as text."""

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from logbook.answers.clinic import ClinicView
from logbook.country import country_name
from logbook.sheets.line import Line, Lines
from logbook.sheets.sentences import air, in_air
from logbook.sheets.sheet import Sheet

NOT_TOLD = "not told"


@dataclass(frozen=True, slots=True)
class ClinicSheet(Sheet):
    """What the clinic told of itself, a fact on each line."""

    schema: ClassVar[str] = "clinic/1"
    clinic: ClinicView

    def lines(self) -> Lines:
        """The clinic as text; what was never told is named, because sums would use it."""
        told = self.clinic
        facts = {
            "country": country_name(told.country) if told.country else NOT_TOLD,
            "time zone": told.timezone,
            "dates": f"3/2/2026 is {_read(told)}",
            "air": _air(told),
            "first day of this logbook": told.since.isoformat(),
            "day of the week's list": told.listing_day.title(),
        }
        return [Line(told.name), *(Line(f"  {name}: {fact}") for name, fact in facts.items())]


def _read(told: ClinicView) -> str:
    if told.date_order is None:
        return "asked about, because nobody told which comes first"
    day = date(2026, 3, 2) if told.date_order == "month/day" else date(2026, 2, 3)
    return f"read as {day:%B} {day.day}, {told.date_order}"


def _air(told: ClinicView) -> str:
    """The air by what was told of it, and the pressure that is counted with."""
    said = air(told.altitude_m, told.ambient_kpa)
    if said is None:
        return f"{NOT_TOLD}, counted as at the sea"
    return said if told.ambient_kpa is not None else f"{said}, {in_air(told.air_kpa)}"
