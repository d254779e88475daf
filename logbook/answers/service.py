"""Service by the calendar and by run hours; dates belong to the unit and travel with it."""

from datetime import date

from logbook.answers.facts import Plan
from logbook.answers.item import Asked, Clock, DueItem, Place, day_item, hours_item, no_record
from logbook.answers.spans import Ran
from logbook.answers.standing import Standing
from logbook.errors import InputError
from logbook.projections.lookup import OUTPUT_VERIFICATION

EXPECTED = {"machine": "service", "vaporizer": OUTPUT_VERIFICATION}
"""What every unit needs even where nobody planned it (ANZCA PS31 2014; UC Davis policy)."""


def service_items(asked: Asked, machine: str | None = None) -> list[DueItem]:
    """A line for each plan, and for each unit without the service that it needs; of all units, or
    of a machine and what stands on it."""
    places: dict[str, str | None] = {tag: tag for tag in asked.machines}
    places |= {view.vaporizer: view.machine for view in asked.vaporizers.values()}
    if machine is not None:
        places = {unit: place for unit, place in places.items() if place == machine}
    items: list[DueItem] = []
    for plan in asked.known.plans:
        if plan.unit in places:
            items += _plan_items(asked, plan, places[plan.unit])
    planned = {item.unit for item in items}
    for unit in places.keys() - planned:
        expected = EXPECTED["machine" if unit in asked.machines else "vaporizer"]
        reason = "no service plan is recorded"
        items.append(no_record(Place(places[unit], unit, expected), Clock.CALENDAR, reason))
    return items


def _plan_items(asked: Asked, plan: Plan, machine: str | None) -> list[DueItem]:
    place = Place(machine, plan.unit, plan.item)
    done = asked.known.services.get((plan.unit, plan.item))
    if done is not None and done.outcome == "failed":
        day = asked.moment.day_of(done.at_s)
        reason = f"the service of {day} failed (entry {done.entry})"
        return [DueItem(*place, Clock.CALENDAR, None, None, None, Standing.DUE, day, reason)]
    last, _ = asked.known.clock_of(plan)
    if last is None:
        return [no_record(place, Clock.CALENDAR, "no service is recorded")]
    items = []
    if plan.every:
        items.append(_calendar_item(asked, place, plan.every, last))
    if plan.run_hours:
        used_s = asked.known.ran.get(plan.key, Ran()).ran_s
        reason = f"last done {last}"
        items.append(hours_item(asked, place, used_s=used_s, limit_h=plan.run_hours, reason=reason))
    return items


def _calendar_item(asked: Asked, place: Place, every: str, last: date) -> DueItem:
    from logbook.arithmetic.calendar import next_due

    try:
        due_on = next_due(every, last)
    except InputError as error:
        # A rule can come to its end; then nobody knows when to look again, so it counts as due.
        reason = str(error)
        return DueItem(*place, Clock.CALENDAR, None, None, None, Standing.DUE, None, reason)
    reason, clock = f"last done {last}", Clock.CALENDAR
    return day_item(asked, place, clock=clock, last=last, due_on=due_on, reason=reason)
