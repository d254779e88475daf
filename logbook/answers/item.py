"""One line of the list of what is due, and what is read once to make the lines."""

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from sqlalchemy import Connection

from logbook.answers.ground import Ground, Missing, NotRecorded
from logbook.answers.known import Known
from logbook.answers.moment import Moment
from logbook.answers.register import Register
from logbook.answers.rules import Rulebook
from logbook.answers.standing import Standing, by_amount, by_date
from logbook.projections.lookup import (
    MachineView,
    Stay,
    VaporizerView,
)
from logbook.value import Value


class Clock(StrEnum):
    """What runs until something is due."""

    HOURS = "hours in use"
    DAYS_SINCE_CHANGE = "days since the change"
    DAYS_SINCE_CHECK = "days since the check"
    CALENDAR = "calendar"
    CARBON_DIOXIDE = "carbon dioxide"
    AGENT = "agent used"
    OXYGEN = "oxygen used"
    WEIGHT = "weight gained"
    AGENT_SENT = "agent it may hold"
    SEEN = "seen at a check"
    EXPIRY = "expiry date"
    VERIFIED = "months since verified"
    UNUSED = "days unused"


class Measure(StrEnum):
    """What a clock counts in."""

    HOURS = "h"
    DAYS = "d"
    GRAMS = "g"
    MILLILITRES = "mL"
    LITRES = "L"


class DueItem(Value):
    """A clock on a unit: how much of what limit is used, how that stands, and on what it rests.

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
    reason: Ground

    @property
    def what(self) -> str:
        """The item, with its unit where that is not the machine itself."""
        return self.item if self.unit == self.machine else f"{self.unit} {self.item}"


class Asked(Value):
    """The question's moment, the few small tables that every part of the answer needs, and what is
    known of the machines in use and of the vaporizers."""

    moment: Moment
    rules: Rulebook
    machines: dict[str, MachineView]
    vaporizers: dict[str, VaporizerView]
    stays: dict[str, list[Stay]]
    known: Known


def ask(connection: Connection, moment: Moment) -> Asked:
    """What every part of an answer about all units needs."""
    return ask_in(Register(connection), moment)


def ask_about(connection: Connection, moment: Moment, machine: str) -> Asked:
    """The same about one machine and the vaporizers that stand on it."""
    return ask_in(Register(connection), moment, machine)


def ask_in(register: Register, moment: Moment, machine: str | None = None) -> Asked:
    """The same as one of several questions of an act."""
    machines = {
        tag: view
        for tag, view in register.machines(moment.at_s).items()
        if view.retired_s is None and machine in (None, tag)
    }
    vaporizers = {
        tag: view
        for tag, view in register.vaporizers(moment.at_s).items()
        if machine in (None, view.machine)
    }
    known = Known(register, moment, machines, vaporizers)
    rules = register.rules_at(moment.at_s)
    return Asked(moment, rules, machines, vaporizers, register.stays, known)


class Place(NamedTuple):
    """What a line is about: the machine where the unit stands, the unit, and the item on it."""

    machine: str | None
    unit: str
    item: str


def no_record(place: Place, clock: Clock, missing: Missing) -> DueItem:
    """The line for something nobody wrote down: it counts as due."""
    reason = NotRecorded(missing)
    return DueItem(*place, clock, None, None, None, Standing.NO_RECORD, None, reason)


def day_item(
    asked: Asked, place: Place, *, clock: Clock, last: date, due_on: date, reason: Ground
) -> DueItem:
    """A line by the calendar, in days since the last time."""
    soon = asked.rules.for_machine(place.machine)["due-soon-days"]
    today = asked.moment.day
    used, limit = Decimal((today - last).days), Decimal((due_on - last).days)
    standing = by_date(due_on, today, soon)
    return DueItem(*place, clock, used, limit, Measure.DAYS, standing, due_on, reason)


def hours_item(
    asked: Asked, place: Place, *, used_s: int, limit_h: Decimal, reason: Ground
) -> DueItem:
    """A line by hours in use; judged by the exact seconds."""
    soon = asked.rules.for_machine(place.machine)["due-soon-share"]
    standing = by_amount(Decimal(used_s), limit_h * 3600, soon)
    used_h = Decimal(used_s) / 3600
    return DueItem(*place, Clock.HOURS, used_h, limit_h, Measure.HOURS, standing, None, reason)


def amount_item(
    asked: Asked, place: Place, *, clock: Clock, used: Decimal, limit: Decimal, measure: Measure,
    reason: Ground,
) -> DueItem:  # fmt: skip
    """A line by an amount such as grams gained or millilitres used."""
    soon = asked.rules.for_machine(place.machine)["due-soon-share"]
    standing = by_amount(used, limit, soon)
    return DueItem(*place, clock, used, limit, measure, standing, None, reason)
