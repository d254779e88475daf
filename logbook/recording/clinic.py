"""Telling the clinic anew: what is not named stays as it was told before."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import func, select

from logbook.entries.clinic import Clinic
from logbook.errors import InputError
from logbook.ledger.store import read_entry
from logbook.projections import tables
from logbook.recording.opening import Book

_AIR = ("altitude_m", "ambient_kpa")


def clinic_anew(book: Book, changes: Mapping[str, Any], reason: str) -> Clinic:
    """The clinic with some of its fields told anew; of altitude and pressure the last told counts.

    Raises:
        InputError: nothing is told, or what is told does not fit.
    """
    changed = {name: value for name, value in changes.items() if value is not None}
    if not changed:
        raise InputError("nothing to change", "name at least one of the options")
    last = book.connection.execute(select(func.max(tables.clinic.c.entry))).scalar_one()
    before = read_entry(book.connection, last)
    told = before.body.model_dump(exclude={"reason"}, exclude_none=True) if before else {}
    if any(name in changed for name in _AIR):
        told = {name: value for name, value in told.items() if name not in _AIR}
    return Clinic.of(**told | changed, reason=reason)
