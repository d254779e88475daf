"""One line of the list of what is due, and what is read once to make the lines."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from sqlalchemy import Connection

from logbook.answers.moment import Moment
from logbook.answers.rules import Rulebook, rulebook
from logbook.answers.standing import Standing, by_amount, by_date
from logbook.answers.unfinished import Unfinished, unfinished_checks
from logbook.projections.lookup import (
    MachineView,
    Stay,
    VaporizerView,
    machine_views,
    positions,
    vaporizer_views,
)
from logbook.times import hours_text
from logbook.units import format_decimal


@dataclass(frozen=True, slots=True)
class DueItem:
    """A clock on a unit: how much of what limit is used, how that stands, and why.

    ``used`` and ``limit`` are in ``measure`` (h, d, g, mL); both None where nothing is recorded.
    ``machine`` is where the unit stands; None for a vaporizer on the shelf.
    """

    machine: str | None
    unit: str
    item: str
    clock: str
    used: str | None
    limit: str | None
    measure: str | None
    standing: Standing
    due_on: date | None
    reason: str

    @property
    def what(self) -> str:
        """The item, with its unit where that is not the machine itself."""
        return self.item if self.unit == self.machine else f"{self.unit} {self.item}"

    @property
    def sentence(self) -> str:
        """What it is about and how it stands, without the word for its standing."""
        joint = " " if self.used is not None else ": "
        return f"{self.what}{joint}{self.told}"

    @property
    def told(self) -> str:
        """When it is due or how much is used, and on what record that rests."""
        if self.used is None:
            return self.reason
        if self.measure == "d" and self.due_on:
            return f"due on {self.due_on:%a} {self.due_on} ({self.reason})"
        clock = self.clock.removeprefix("hours ")
        return f"{self.used} of {self.limit} {self.measure} {clock} ({self.reason})"


@dataclass(frozen=True, slots=True)
class Asked:
    """The question's moment and the few small tables that every part of the answer needs."""

    connection: Connection
    moment: Moment
    rules: Rulebook
    machines: dict[str, MachineView]
    vaporizers: dict[str, VaporizerView]
    stays: dict[str, list[Stay]]
    begun: list[Unfinished]


def ask(connection: Connection, moment: Moment) -> Asked:
    """Read once what every part of an answer needs: units, places, limits."""
    machines = machine_views(connection, moment.at_s)
    return Asked(
        connection=connection,
        moment=moment,
        rules=rulebook(connection, moment.at_s),
        machines={tag: view for tag, view in machines.items() if view.retired_s is None},
        vaporizers=vaporizer_views(connection, moment.at_s),
        stays=positions(connection),
        begun=unfinished_checks(connection),
    )


class Place(NamedTuple):
    """What a line is about: the machine where the unit stands, the unit, and the item on it."""

    machine: str | None
    unit: str
    item: str


def no_record(place: Place, clock: str, reason: str) -> DueItem:
    """The line for something nobody wrote down: it counts as due."""
    return DueItem(*place, clock, None, None, None, "no record", None, reason)


def day_item(
    asked: Asked, place: Place, *, clock: str, last: date, due_on: date, reason: str
) -> DueItem:
    """A line by the calendar, in days since the last time."""
    soon = asked.rules.for_machine(place.machine)["due-soon-days"]
    today = asked.moment.day
    used, limit = str((today - last).days), str((due_on - last).days)
    standing = by_date(due_on, today, soon)
    return DueItem(*place, clock, used, limit, "d", standing, due_on, reason)


def hours_item(
    asked: Asked, place: Place, *, used_s: int, limit_h: Decimal, reason: str
) -> DueItem:
    """A line by hours in use; judged by the exact seconds, shown with two digits."""
    soon = asked.rules.for_machine(place.machine)["due-soon-share"]
    standing = by_amount(Decimal(used_s), limit_h * 3600, soon)
    used, limit = hours_text(used_s), format_decimal(limit_h)
    return DueItem(*place, "hours in use", used, limit, "h", standing, None, reason)


def amount_item(
    asked: Asked, place: Place, *, clock: str, used: Decimal, limit: Decimal, measure: str,
    reason: str,
) -> DueItem:  # fmt: skip
    """A line by an amount such as grams gained or millilitres used."""
    soon = asked.rules.for_machine(place.machine)["due-soon-share"]
    standing = by_amount(used, limit, soon)
    shown = format_decimal(round(used, 1)), format_decimal(round(limit, 1))
    return DueItem(*place, clock, *shown, measure, standing, None, reason)
