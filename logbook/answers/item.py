"""One line of the list of what is due, and what is read once to make the lines."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from sqlalchemy import Connection

from logbook.answers.known import Known
from logbook.answers.moment import Moment
from logbook.answers.rules import Rulebook, rulebook
from logbook.answers.standing import Standing, by_amount, by_date
from logbook.projections.lookup import (
    MachineView,
    Stay,
    VaporizerView,
    machine_views,
    positions,
    vaporizer_views,
)
from logbook.units import format_decimal


class Clock(StrEnum):
    """What runs until something is due."""

    HOURS = "hours in use"
    DAYS_SINCE_CHANGE = "days since the change"
    DAYS_SINCE_CHECK = "days since the check"
    CALENDAR = "calendar"
    CARBON_DIOXIDE = "carbon dioxide"
    AGENT = "agent used"
    WEIGHT = "weight gained"
    SEEN = "seen at a check"


class Measure(StrEnum):
    """What a clock counts in."""

    HOURS = "h"
    DAYS = "d"
    GRAMS = "g"
    MILLILITRES = "mL"
    LITRES = "L"


@dataclass(frozen=True, slots=True)
class DueItem:
    """A clock on a unit: how much of what limit is used, how that stands, and why.

    ``used`` and ``limit`` are in ``measure`` and exact; both None where nothing is recorded.
    ``machine`` is where the unit stands; None for a vaporizer on the shelf.
    """

    machine: str | None
    unit: str
    item: str
    clock: Clock
    used: Decimal | None
    limit: Decimal | None
    measure: Measure | None
    standing: Standing
    due_on: date | None
    reason: str

    @property
    def what(self) -> str:
        """The item, with its unit where that is not the machine itself."""
        return self.item if self.unit == self.machine else f"{self.unit} {self.item}"

    @property
    def amounts(self) -> tuple[str, str]:
        """``used`` and ``limit`` with as many digits as a person reads."""
        used, limit = self.used or Decimal(0), self.limit or Decimal(0)
        if self.measure is Measure.HOURS:
            return format_decimal(round(used, 2)), format_decimal(limit)
        return format_decimal(round(used, 1)), format_decimal(round(limit, 1))

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
        if self.measure is Measure.DAYS and self.due_on:
            return f"due on {self.due_on:%a} {self.due_on} ({self.reason})"
        used, limit = self.amounts
        clock = "in use" if self.clock is Clock.HOURS else self.clock
        return f"{used} of {limit} {self.measure} {clock} ({self.reason})"


@dataclass(frozen=True, slots=True)
class Asked:
    """The question's moment, the few small tables that every part of the answer needs, and what is
    known of the machines in use and of the vaporizers."""

    moment: Moment
    rules: Rulebook
    machines: dict[str, MachineView]
    vaporizers: dict[str, VaporizerView]
    stays: dict[str, list[Stay]]
    known: Known


def ask(connection: Connection, moment: Moment) -> Asked:
    """Read once what every part of an answer needs: units, places, limits."""
    views = machine_views(connection, moment.at_s)
    machines = {tag: view for tag, view in views.items() if view.retired_s is None}
    stays = positions(connection)
    vaporizers = vaporizer_views(connection, moment.at_s, stays)
    known = Known(connection, moment, machines, vaporizers, stays)
    rules = rulebook(connection, moment.at_s)
    return Asked(moment, rules, machines, vaporizers, stays, known)


def ask_about(
    connection: Connection, moment: Moment, machine: str, named: Collection[str | None] = ()
) -> Asked:
    """The same about one machine, the vaporizers that stand on it, and those named."""
    asked = ask(connection, moment)
    machines = {tag: view for tag, view in asked.machines.items() if tag == machine}
    vaporizers = {
        tag: view
        for tag, view in asked.vaporizers.items()
        if view.machine == machine or tag in named
    }
    known = Known(connection, moment, machines, vaporizers, asked.stays)
    return replace(asked, machines=machines, vaporizers=vaporizers, known=known)


class Place(NamedTuple):
    """What a line is about: the machine where the unit stands, the unit, and the item on it."""

    machine: str | None
    unit: str
    item: str


def no_record(place: Place, clock: Clock, reason: str) -> DueItem:
    """The line for something nobody wrote down: it counts as due."""
    return DueItem(*place, clock, None, None, None, Standing.NO_RECORD, None, reason)


def day_item(
    asked: Asked, place: Place, *, clock: Clock, last: date, due_on: date, reason: str
) -> DueItem:
    """A line by the calendar, in days since the last time."""
    soon = asked.rules.for_machine(place.machine)["due-soon-days"]
    today = asked.moment.day
    used, limit = Decimal((today - last).days), Decimal((due_on - last).days)
    standing = by_date(due_on, today, soon)
    return DueItem(*place, clock, used, limit, Measure.DAYS, standing, due_on, reason)


def hours_item(
    asked: Asked, place: Place, *, used_s: int, limit_h: Decimal, reason: str
) -> DueItem:
    """A line by hours in use; judged by the exact seconds."""
    soon = asked.rules.for_machine(place.machine)["due-soon-share"]
    standing = by_amount(Decimal(used_s), limit_h * 3600, soon)
    used_h = Decimal(used_s) / 3600
    return DueItem(*place, Clock.HOURS, used_h, limit_h, Measure.HOURS, standing, None, reason)


def amount_item(
    asked: Asked, place: Place, *, clock: Clock, used: Decimal, limit: Decimal, measure: Measure,
    reason: str,
) -> DueItem:  # fmt: skip
    """A line by an amount such as grams gained or millilitres used."""
    soon = asked.rules.for_machine(place.machine)["due-soon-share"]
    standing = by_amount(used, limit, soon)
    return DueItem(*place, clock, used, limit, measure, standing, None, reason)
