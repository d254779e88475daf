"""The clocks of the absorbent: hours, days, agent, and what was seen at a check."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from logbook.answers.facts import Change
from logbook.answers.ground import Changed, Charged, Missing, Seen
from logbook.answers.item import (
    Asked,
    Clock,
    DueItem,
    Measure,
    Place,
    amount_item,
    day_item,
    hours_item,
    no_record,
)
from logbook.answers.reached import Reached
from logbook.answers.rules import Values
from logbook.answers.spans import LOADS_ABSORBENT, Load, Ran, Use
from logbook.answers.standing import Standing
from logbook.arithmetic.absorbent import capacity_l
from logbook.projections.lookup import MachineView
from logbook.value import Value
from logbook.vocabulary import AbsorbentKind

EVERY_CIRCUIT = (*LOADS_ABSORBENT, "non-rebreathing")


def load_since_change(asked: Asked, machine: str) -> Load:
    """What loaded the absorbent of a machine since its last change."""
    ran = asked.known.ran.get(("absorbent", machine), Ran())
    return ran.on(counted_circuits(asked.rules.for_machine(machine)))


def counted_circuits(values: Values) -> tuple[str, ...]:
    """The circuits whose cases load the absorbent by the limits in force."""
    return EVERY_CIRCUIT if values["absorbent-counts-non-rebreathing"] else LOADS_ABSORBENT


def absorbent_items(asked: Asked, view: MachineView, *, estimate: bool = True) -> list[DueItem]:
    """One line for each clock that is on; whichever comes first counts.

    Without the ``estimate`` of what reached the granules it takes half as long after many cases.
    """
    place = Place(view.machine, view.machine, "absorbent")
    change = asked.known.absorbent.get(view.machine)
    if change is None:
        return [no_record(place, Clock.HOURS, Missing.CHANGE)]
    clocks = _clocks(asked, view, place, change, estimate=estimate)
    return [*clocks, *_seen(asked, place)]


def _clocks(
    asked: Asked, view: MachineView, place: Place, change: Change, *, estimate: bool
) -> Iterator[DueItem]:
    values = asked.rules.for_machine(view.machine)
    load = load_since_change(asked, view.machine)
    reason = Changed(asked.moment.local(change.at_s), recorded=change.recorded)
    if limit_h := values["absorbent-hours"]:
        yield hours_item(asked, place, used_s=load.ran_s, limit_h=limit_h, reason=reason)
    if limit_d := values["absorbent-days"]:
        day = asked.moment.day_of(change.at_s)
        due_on, clock = day + timedelta(days=int(limit_d)), Clock.DAYS_SINCE_CHANGE
        yield day_item(asked, place, clock=clock, last=day, due_on=due_on, reason=reason)
    if values["absorbent-co2"] and (charge := charge_of(change, view)):
        yield _co2_item(asked, place, load, charge, estimate=estimate)
    # No day comes after the last one that there is, so that a charge until then never expires.
    if change.expiry and change.expiry < date.max:
        # A charge that is in use on its last day is sound; from the next day on it has expired.
        expired_on, clock = change.expiry + timedelta(days=1), Clock.EXPIRY
        day, told = asked.moment.day_of(change.at_s), replace(reason, expires=change.expiry)
        item = day_item(asked, place, clock=clock, last=day, due_on=expired_on, reason=told)
        if item.standing is not Standing.OK:
            yield item
    if limit_ml := values["absorbent-agent"]:
        used_ml = asked.known.agent_through.get(view.machine, Use()).agent_ml
        yield amount_item(
            asked, place, clock=Clock.AGENT, used=used_ml, limit=limit_ml,
            measure=Measure.MILLILITRES, reason=reason,
        )  # fmt: skip


class Charge(Value):
    """What is in the canister: grams, and what kind it is."""

    mass_g: Decimal
    kind: AbsorbentKind


def charge_of(change: Change, view: MachineView) -> Charge | None:
    """The charge that counts: never more than the canister holds, and of a kind that was told at
    the change or of the machine; None where no mass is known."""
    masses = [mass_g for mass_g in (change.mass_g, view.absorbent_g) if mass_g is not None]
    if not masses:
        return None
    return Charge(min(masses), change.kind or view.absorbent_kind or "unknown")


def _co2_item(asked: Asked, place: Place, load: Load, charge: Charge, *, estimate: bool) -> DueItem:
    """Carbon dioxide that the patients breathed out, against what the charge takes at least.

    Patients without a weight are not counted, so that this clock is a lower bound: it can only
    bring the change forward, never put it off. What reached the granules by the fresh gas stands
    beside it and judges nothing.
    """
    percent = asked.rules.for_machine(place.machine)["absorbent-co2"]
    circuits = counted_circuits(asked.rules.for_machine(place.machine))
    reached_l = None
    if estimate:
        reached_l = asked.known.reached.get(place.unit, Reached()).on(circuits)
    return amount_item(
        asked, place, clock=Clock.CARBON_DIOXIDE, used=load.co2_l,
        limit=capacity_l(charge.mass_g, charge.kind) * percent / 100, measure=Measure.LITRES,
        reason=Charged(charge.mass_g, charge.kind, reached_l, load.unweighed_s),
    )  # fmt: skip


def _seen(asked: Asked, place: Place) -> Iterator[DueItem]:
    """A colour change or hard granules seen since the change: due at once, as colour can revert."""
    seen = asked.known.exhausted.get(place.unit)
    if seen is not None:
        day = asked.moment.day_of(seen.at_s)
        reason = Seen(seen.granules, day, seen.entry, seen.recorded)
        standing = Standing.OVERDUE if day < asked.moment.day else Standing.DUE
        yield DueItem(*place, Clock.SEEN, None, None, None, standing, day, reason)
