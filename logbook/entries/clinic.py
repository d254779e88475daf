"""The clinic and the people who work in it."""

from typing import Annotated, ClassVar

from pydantic import AfterValidator

from logbook.entries.base import Body, Initials, Words
from logbook.entries.explaining import field_misfit
from logbook.vocabulary import Weekday


def _known_zone(name: str) -> str:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise field_misfit("must be a time zone written like America/Denver (IANA)") from None
    return name


class Clinic(Body):
    """The clinic that keeps this ledger; a later one replaces an earlier one."""

    kind: ClassVar[str] = "clinic"
    name: Words
    timezone: Annotated[str, AfterValidator(_known_zone)]
    listing_day: Weekday = "friday"
    reason: Words | None = None
    """Why a new ledger was started where another one lay."""


class Staff(Body):
    """A person who signs entries. The name stands in a side table, outside the chain."""

    kind: ClassVar[str] = "staff"
    initials: Initials
