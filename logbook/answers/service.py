"""Service by the calendar and by run hours; dates belong to the unit and travel with it."""

from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, select

from logbook.answers.item import Asked, DueItem, Place, day_item, hours_item, no_record
from logbook.answers.moment import Moment
from logbook.answers.usage import machine_run_s, vaporizer_run_s
from logbook.errors import InputError
from logbook.projections.lookup import OUTPUT_VERIFICATION
from logbook.projections.tables import service, service_plan

EXPECTED = {"machine": "service", "vaporizer": OUTPUT_VERIFICATION}
"""What every unit needs even where nobody planned it (ANZCA PS31 2014; UC Davis policy)."""


def plans(connection: Connection, at_s: int) -> list[Row[Any]]:
    """The newest plan of each item on each unit.

    A plan counts from before the day on which it was entered, like the units themselves.
    """
    query = select(service_plan).order_by(service_plan.c.at_s, service_plan.c.entry)
    newest: dict[tuple[str, str], Row[Any]] = {}
    for row in connection.execute(query):
        if row.at_s <= at_s or (row.unit, row.item) not in newest:
            newest[row.unit, row.item] = row
    return list(newest.values())


def service_items(asked: Asked) -> list[DueItem]:
    """A line for each plan, and for each unit without the service that it needs."""
    places: dict[str, str | None] = {tag: tag for tag in asked.machines}
    places |= {view.vaporizer: view.machine for view in asked.vaporizers.values()}
    items: list[DueItem] = []
    for plan in plans(asked.connection, asked.moment.at_s):
        if plan.unit in places:
            items += _plan_items(asked, plan, places[plan.unit])
    planned = {item.unit for item in items}
    for unit in places.keys() - planned:
        expected = EXPECTED["machine" if unit in asked.machines else "vaporizer"]
        reason = "no service plan is recorded"
        items.append(no_record(Place(places[unit], unit, expected), "calendar", reason))
    return items


def last_service(connection: Connection, unit: str, item: str, at_s: int) -> Row[Any] | None:
    """The newest service of an item that passed or failed; one not verified changes nothing."""
    query = select(service).where(
        service.c.unit == unit,
        service.c.item == item,
        service.c.at_s <= at_s,
        service.c.outcome != "not verified",
    )
    return connection.execute(
        query.order_by(service.c.at_s.desc(), service.c.entry.desc()).limit(1)
    ).first()


def _plan_items(asked: Asked, plan: Row[Any], machine: str | None) -> list[DueItem]:
    place = Place(machine, plan.unit, plan.item)
    done = last_service(asked.connection, plan.unit, plan.item, asked.moment.at_s)
    if done is not None and done.outcome == "failed":
        day = asked.moment.day_of(done.at_s)
        reason = f"the service of {day} failed (entry {done.entry})"
        return [DueItem(*place, "calendar", None, None, None, "due", day, reason)]
    last, since_s = _last(asked.moment, plan, done)
    if last is None:
        return [no_record(place, "calendar", "no service is recorded")]
    items, reason = [], f"last done {last}"
    if plan.every:
        items.append(_calendar_item(asked, place, plan.every, last))
    if plan.run_hours:
        used_s = _run_s(asked, plan.unit, since_s)
        limit_h = plan.run_hours
        items.append(hours_item(asked, place, used_s=used_s, limit_h=limit_h, reason=reason))
    return items


def _calendar_item(asked: Asked, place: Place, every: str, last: date) -> DueItem:
    from logbook.arithmetic.calendar import next_due

    reason = f"last done {last}"
    try:
        due_on = next_due(every, last)
    except InputError as error:
        # A rule can come to its end; then nobody knows when to look again, so it counts as due.
        return DueItem(*place, "calendar", None, None, None, "due", None, str(error))
    return day_item(asked, place, clock="calendar", last=last, due_on=due_on, reason=reason)


def _last(moment: Moment, plan: Row[Any], done: Row[Any] | None) -> tuple[date | None, int]:
    """The day and the second from which the clocks of a plan run."""
    if done is not None:
        day = moment.day_of(done.at_s)
        if plan.last is None or day >= plan.last:
            return day, done.at_s
    return plan.last, moment.day_began_s(plan.last) if plan.last else 0


def _run_s(asked: Asked, unit: str, since_s: int) -> int:
    until_s = asked.moment.at_s
    if unit in asked.machines:
        return machine_run_s(asked.connection, unit, since_s, until_s)
    stays = asked.stays.get(unit, [])
    return vaporizer_run_s(asked.connection, unit, stays, since_s, until_s)
