"""The clocks of the absorbent: hours, days, agent, and what was seen at a check."""

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal

from logbook.answers.facts import Change
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
from logbook.answers.spans import LOADS_ABSORBENT, Load, Ran, Use
from logbook.answers.standing import Standing
from logbook.arithmetic.absorbent import capacity_l
from logbook.projections.lookup import MachineView
from logbook.times import hours_text, local_text, utc_from_epoch_s
from logbook.units import format_decimal

EVERY_CIRCUIT = (*LOADS_ABSORBENT, "non-rebreathing")


def load_since_change(asked: Asked, machine: str) -> Load:
    """What loaded the absorbent of a machine since its last change."""
    every = asked.rules.for_machine(machine)["absorbent-counts-non-rebreathing"]
    ran = asked.known.ran.get(("absorbent", machine), Ran())
    return ran.on(EVERY_CIRCUIT if every else LOADS_ABSORBENT)


def absorbent_items(asked: Asked, view: MachineView) -> list[DueItem]:
    """One line for each clock that is on; whichever comes first counts."""
    place = Place(view.machine, view.machine, "absorbent")
    change = asked.known.absorbent.get(view.machine)
    if change is None:
        return [no_record(place, Clock.HOURS, "no change is recorded")]
    return [*_clocks(asked, view, place, change), *_seen(asked, place)]


def _clocks(asked: Asked, view: MachineView, place: Place, change: Change) -> Iterator[DueItem]:
    values = asked.rules.for_machine(view.machine)
    load = load_since_change(asked, view.machine)
    reason = f"last change {local_text(utc_from_epoch_s(change.at_s), asked.moment.zone)}"
    if limit_h := values["absorbent-hours"]:
        yield hours_item(asked, place, used_s=load.ran_s, limit_h=limit_h, reason=reason)
    if limit_d := values["absorbent-days"]:
        day = asked.moment.day_of(change.at_s)
        due_on, clock = day + timedelta(days=int(limit_d)), Clock.DAYS_SINCE_CHANGE
        yield day_item(asked, place, clock=clock, last=day, due_on=due_on, reason=reason)
    if (charge_g := change.mass_g or view.absorbent_g) and values["absorbent-co2"]:
        yield _co2_item(asked, place, load, charge_g)
    if limit_ml := values["absorbent-agent"]:
        used_ml = asked.known.agent_through.get(view.machine, Use()).agent_ml
        yield amount_item(
            asked, place, clock=Clock.AGENT, used=used_ml, limit=limit_ml,
            measure=Measure.MILLILITRES, reason=reason,
        )  # fmt: skip


def _co2_item(asked: Asked, place: Place, load: Load, charge_g: Decimal) -> DueItem:
    """Carbon dioxide that the patients breathed out, against what the charge takes at least.

    Patients without a weight are not counted, so that this clock is a lower bound: it can only
    bring the change forward, never put it off.
    """
    percent = asked.rules.for_machine(place.machine)["absorbent-co2"]
    untold_s = load.unweighed_s
    without = f", {hours_text(untold_s)} h without a weight not counted" if untold_s else ""
    return amount_item(
        asked, place, clock=Clock.CARBON_DIOXIDE, used=load.co2_l,
        limit=capacity_l(charge_g) * percent / 100, measure=Measure.LITRES,
        reason=f"{format_decimal(charge_g)} g of absorbent{without}",
    )  # fmt: skip


def _seen(asked: Asked, place: Place) -> Iterator[DueItem]:
    """A colour change or hard granules seen since the change: due at once, as colour can revert."""
    seen = asked.known.exhausted.get(place.unit)
    if seen is not None:
        day = asked.moment.day_of(seen.at_s)
        reason = f"granules {seen.granules} at the check of {day} (entry {seen.entry})"
        standing = Standing.OVERDUE if day < asked.moment.day else Standing.DUE
        yield DueItem(*place, Clock.SEEN, None, None, None, standing, day, reason)
