"""Service by the calendar and by run hours; dates belong to the unit and travel with it."""

from collections.abc import Iterator
from datetime import date, timedelta

from sqlalchemy import Connection

from logbook.answers.facts import Plan
from logbook.answers.ground import DoneOn, Failed, Missing, RuleEnded, Unused, VerifiedOn
from logbook.answers.item import (
    Asked,
    Clock,
    DueItem,
    Place,
    ask,
    day_item,
    hours_item,
    no_record,
)
from logbook.answers.moment import Moment
from logbook.answers.spans import Ran
from logbook.answers.standing import Standing
from logbook.errors import InputError
from logbook.projections.lookup import EXPECTED, OUTPUT_VERIFICATION


def service_items(asked: Asked, machine: str | None = None) -> list[DueItem]:
    """A line for each plan, for each unit without the service that it needs, and for a vaporizer's
    last verification; of all units, or of a machine and what stands on it."""
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
        place = Place(places[unit], unit, expected)
        items.append(no_record(place, Clock.CALENDAR, Missing.SERVICE_PLAN))
    verifications = {plan.unit for plan in asked.known.plans if plan.item == OUTPUT_VERIFICATION}
    for unit in (places.keys() & asked.vaporizers.keys()) - verifications:
        items += _verified_without_plan(asked, Place(places[unit], unit, OUTPUT_VERIFICATION))
    return items


def _verified_without_plan(asked: Asked, place: Place) -> Iterator[DueItem]:
    """What ends the use of a vaporizer counts where nobody planned its verification, too; one that
    failed has put it out of service."""
    done = asked.known.services.get((place.unit, place.item))
    if done is not None and done.outcome == "passed":
        day = asked.moment.day_of(done.at_s)
        yield from _verified(asked, place, DoneOn(day, done.recorded), set())


def next_services(connection: Connection, moment: Moment) -> dict[str, date]:
    """The day on which the calendar next asks for a service of each unit that has one, or ends the
    use of a vaporizer."""
    found: dict[str, date] = {}
    for one in service_items(ask(connection, moment)):
        if one.clock in (Clock.CALENDAR, Clock.VERIFIED) and one.due_on is not None:
            found[one.unit] = min(one.due_on, found.get(one.unit, one.due_on))
    return found


def _plan_items(asked: Asked, plan: Plan, machine: str | None) -> list[DueItem]:
    place = Place(machine, plan.unit, plan.item)
    done = asked.known.services.get((plan.unit, plan.item))
    if done is not None and done.outcome == "failed":
        day = asked.moment.day_of(done.at_s)
        reason = Failed(day, done.entry, done.recorded)
        return [DueItem(*place, Clock.CALENDAR, None, None, None, Standing.DUE, day, reason)]
    last, _ = asked.known.clock_of(plan)
    if last is None:
        return [no_record(place, Clock.CALENDAR, Missing.SERVICE)]
    items = []
    # What a plan told itself was recorded with it.
    by_entry = done is not None and asked.moment.day_of(done.at_s) == last
    done_on = DoneOn(last, done.recorded) if done and by_entry else DoneOn(last)
    if plan.every:
        items.append(_calendar_item(asked, place, plan.every, done_on))
    if plan.run_hours:
        used_s = asked.known.ran.get(plan.key, Ran()).ran_s
        hours = hours_item(asked, place, used_s=used_s, limit_h=plan.run_hours, reason=done_on)
        items.append(hours)
    if plan.item == OUTPUT_VERIFICATION and plan.unit in asked.vaporizers:
        items += _verified(asked, place, done_on, {one.due_on for one in items if one.due_on})
    return items


def _verified(asked: Asked, place: Place, last: DoneOn, planned: set[date]) -> Iterator[DueItem]:
    """What ends the use of a vaporizer before its plan does: its certification is too old (UCSB
    SOP), or it stood unused since (UC Davis policy)."""
    from logbook.arithmetic.calendar import next_due

    limits = asked.rules.for_machine(place.machine)
    if months := int(limits["vaporizer-verified-months"]):
        due_on = next_due(f"P{months}M", last.day)
        if due_on < min(planned, default=date.max):
            reason = VerifiedOn(last.day, months, last.recorded)
            yield day_item(
                asked, place, clock=Clock.VERIFIED, last=last.day, due_on=due_on, reason=reason
            )
    days, ran = int(limits["vaporizer-unused-days"]), asked.known.ran.get(("used", place.unit))
    if days and (asked.moment.day - last.day).days > days and not (ran and ran.ran_s):
        due_on, unused = last.day + timedelta(days=days), Unused(days, last.day, last.recorded)
        yield day_item(
            asked, place, clock=Clock.UNUSED, last=last.day, due_on=due_on, reason=unused
        )


def _calendar_item(asked: Asked, place: Place, every: str, last: DoneOn) -> DueItem:
    from logbook.arithmetic.calendar import next_due

    try:
        due_on = next_due(every, last.day)
    except InputError as error:
        # A rule can come to its end; then nobody knows when to look again, so it counts as due.
        ended = RuleEnded(error)
        return DueItem(*place, Clock.CALENDAR, None, None, None, Standing.DUE, None, ended)
    clock = Clock.CALENDAR
    return day_item(asked, place, clock=clock, last=last.day, due_on=due_on, reason=last)
