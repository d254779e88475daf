"""The clocks of a charcoal canister: hours in use and weight gained."""

from collections.abc import Iterator

from logbook.answers.facts import Canister
from logbook.answers.item import (
    Asked,
    Clock,
    DueItem,
    Measure,
    Place,
    amount_item,
    hours_item,
    no_record,
)
from logbook.answers.spans import Ran
from logbook.projections.lookup import MachineView
from logbook.times import local_text, utc_from_epoch_s


def charcoal_items(asked: Asked, view: MachineView) -> list[DueItem]:
    """Lines for a machine that scavenges through charcoal, or on which a canister was recorded."""
    place = Place(view.machine, view.machine, "charcoal")
    canister = asked.known.charcoal.get(view.machine)
    if canister is None:
        wanted = view.scavenging == "charcoal"
        return [no_record(place, Clock.HOURS, "no change is recorded")] if wanted else []
    return list(_clocks(asked, place, canister))


def _clocks(asked: Asked, place: Place, canister: Canister) -> Iterator[DueItem]:
    values = asked.rules.for_machine(place.unit)
    reason = f"last change {local_text(utc_from_epoch_s(canister.at_s), asked.moment.zone)}"
    if limit_h := values["charcoal-hours"]:
        used_s = asked.known.ran.get(("charcoal", place.unit), Ran()).ran_s
        yield hours_item(asked, place, used_s=used_s, limit_h=limit_h, reason=reason)
    fresh_g, *weighed_g = canister.weights_g
    later_g = [weight_g for weight_g in weighed_g if weight_g is not None]
    if values["charcoal-gain"] and fresh_g is not None and later_g:
        # A canister can dry and lose weight again, so the heaviest weighing counts.
        gained_g = max(fresh_g, *later_g) - fresh_g
        yield amount_item(
            asked, place, clock=Clock.WEIGHT, used=gained_g, limit=values["charcoal-gain"],
            measure=Measure.GRAMS, reason=reason,
        )  # fmt: skip
