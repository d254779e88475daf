"""The clinic and the people who work in it."""

from typing import Annotated, ClassVar

from pydantic import AfterValidator, StringConstraints, ValidationInfo

from logbook.clock import zone_named
from logbook.entries import STORED
from logbook.entries.base import AltitudeM, AmbientKpa, Body, Initials, IsoDay, Words
from logbook.entries.explaining import COUNTRY, field_misfit
from logbook.errors import ZoneMissing
from logbook.vocabulary import DateOrder, Weekday


def _known_zone(name: str, info: ValidationInfo) -> str:
    try:
        zone_named(name)
    except ZoneMissing:
        if info.context is STORED:  # It was known where it was written, and here it is not.
            raise
        raise field_misfit(_ZONE) from None
    except ValueError:
        raise field_misfit(_ZONE) from None
    return name


_ZONE = "must be a time zone written like America/Denver"


class Clinic(Body):
    """The clinic that keeps this ledger; a later one replaces an earlier one."""

    kind: ClassVar[str] = "clinic"
    name: Words
    timezone: Annotated[str, AfterValidator(_known_zone)]
    listing_day: Weekday = "friday"
    country: Annotated[str, StringConstraints(pattern=COUNTRY)] | None = None
    date_order: DateOrder | None = None
    """What 3/2/2026 begins with, where it is not as usual in the country."""
    altitude_m: AltitudeM | None = None
    ambient_kpa: AmbientKpa | None = None
    """The air's pressure at the clinic itself, not reduced to the level of the sea. It counts
    before the altitude."""
    since: IsoDay | None = None
    """The first day on which this logbook was kept; what lies before it was taken over."""
    reason: Words | None = None
    """Why the clinic is told anew, or a new ledger was started where another one lay."""


class Staff(Body):
    """A person who signs entries. The name stands in a side table, outside the chain."""

    kind: ClassVar[str] = "staff"
    initials: Initials
