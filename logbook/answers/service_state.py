"""What stands against the units: what keeps one from use, what brings it back, open faults."""

from collections.abc import Iterator
from enum import StrEnum

from sqlalchemy import Connection

from logbook.answers import statements
from logbook.answers.facts import OpenFault
from logbook.answers.item import Asked
from logbook.times import utc_from_epoch_s
from logbook.value import Value


class Back(StrEnum):
    """What brings a unit back that is out of service, named as evidence of its return."""

    CHECK_OR_SERVICE = "a passed check or service"
    OUTPUT_VERIFICATION = "a passed output verification"

    @classmethod
    def of(cls, *, vaporizer: bool) -> "Back":
        """Of a vaporizer nothing but its output shows that it may be used."""
        return cls.OUTPUT_VERIFICATION if vaporizer else cls.CHECK_OR_SERVICE


class Stopped(Value):
    """A fault that keeps a unit from use: the machine where that stands, what brings it ``back``,
    and the entries that can serve as ``evidence`` already, the newest first."""

    machine: str | None
    fault: OpenFault
    back: Back
    evidence: list[int]


class Noted(Value):
    """An open fault that leaves its unit in service, and the machine where that stands."""

    machine: str | None
    fault: OpenFault


def stopped(asked: Asked) -> list[Stopped]:
    """Everything that keeps a unit from use, machine by machine, the oldest first."""
    return [
        Stopped(
            place, fault, Back.of(vaporizer=unit in asked.vaporizers),
            asked.known.evidence.get(unit, []),
        )
        for unit, place in _places(asked)
        for fault in asked.known.faults.get(unit, [])
    ]  # fmt: skip


def noted(asked: Asked) -> list[Noted]:
    """The open faults that leave their units in service, machine by machine."""
    return [
        Noted(place, fault)
        for unit, place in _places(asked)
        for fault in asked.known.noted.get(unit, [])
    ]


def _places(asked: Asked) -> Iterator[tuple[str, str | None]]:
    """Each unit with the machine where it stands, what stands on a machine behind it."""
    places: dict[str, str | None] = {tag: tag for tag in asked.machines}
    places |= {tag: view.machine for tag, view in asked.vaporizers.items()}
    yield from sorted(places.items(), key=lambda one: (one[1] or "~", one[0] != one[1], one[0]))


def open_faults(connection: Connection, unit: str, at_s: int) -> list[OpenFault]:
    """The stopping faults of a unit that no return to service has ended, oldest first."""
    rows = connection.execute(statements.open_faults(), {"units": [unit], "at_s": at_s})
    return [
        OpenFault(row.entry, row.unit, row.what, row.detail, utc_from_epoch_s(row.at_s))
        for row in rows
        if row.stops
    ]
