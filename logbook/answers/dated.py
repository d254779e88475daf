"""What falls due on a day: the clocks that a calendar can hold."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import cast

from sqlalchemy import Connection

from logbook.answers.due import due_items
from logbook.answers.ground import Missing
from logbook.answers.item import Asked, Clock, DueItem, Place, ask_in, no_record
from logbook.answers.moment import Moment
from logbook.answers.register import Register
from logbook.entries.service import ServicePlan
from logbook.ledger.store import as_entry, rows_of_kind


@dataclass(frozen=True, slots=True)
class Dated:
    """A clock that is due on a day, and how many days before it somebody is reminded."""

    item: DueItem
    on: date
    soon_days: int


def dated(connection: Connection, moment: Moment) -> list[Dated]:
    """Every clock with a day, in the order of their days."""
    return _in_order(_dated(ask_in(Register(connection), moment)))


def ended(connection: Connection, moment: Moment) -> list[Dated]:
    """What once had a day and has none any more: the clocks of machines that are retired, with
    their last day before, and services whose plan was taken back or runs by hours alone now, with
    the day of the plan."""
    register = Register(connection)
    asked = ask_in(register, moment)
    # Of what is told twice the first counts.
    found = [*_of_retired(register, moment), *_of_plans(connection, asked)]
    first = {_key(one.item): one for one in reversed(found)}
    now = {_key(one.item) for one in _dated(asked)}
    return _in_order(one for key, one in first.items() if key not in now)


def _dated(asked: Asked) -> Iterator[Dated]:
    for one in due_items(asked):
        if one.due_on is not None:
            soon = asked.rules.for_machine(one.machine)["due-soon-days"]
            yield Dated(one, one.due_on, int(soon))


def _of_retired(register: Register, moment: Moment) -> Iterator[Dated]:
    for tag, view in register.machines(moment.at_s).items():
        if view.retired_s is not None:
            at_s = view.retired_s - 1
            before = Moment(at_s, moment.day_of(at_s), moment.zone)
            told = _dated(ask_in(register, before, tag))
            yield from (one for one in told if one.item.unit == tag)


def _of_plans(connection: Connection, asked: Asked) -> Iterator[Dated]:
    """Read from the entries themselves: of a plan that was taken back nothing else is left."""
    standing = {(plan.unit, plan.item) for plan in asked.known.plans if plan.every}
    for row in rows_of_kind(connection, "service_plan"):
        one = as_entry(row)
        plan = cast(ServicePlan, one.body)
        if plan.every and (plan.unit, plan.item) not in standing and one.at_s <= asked.moment.at_s:
            place = Place(None, plan.unit, plan.item)
            item = no_record(place, Clock.CALENDAR, Missing.SERVICE_PLAN)
            yield Dated(item, asked.moment.day_of(one.at_s), 0)


def _key(item: DueItem) -> tuple[str, str, Clock]:
    return item.unit, item.item, item.clock


def _in_order(found: Iterable[Dated]) -> list[Dated]:
    return sorted(found, key=lambda one: (one.on, *_key(one.item)))
