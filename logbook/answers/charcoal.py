"""The clocks of a charcoal canister: hours in use, weight gained, agent that it may hold."""

from collections.abc import Iterator
from decimal import Decimal

from logbook.answers.facts import Canister
from logbook.answers.ground import Changed, Missing, Sent
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
from logbook.answers.spans import Ran, Use
from logbook.arithmetic.agent import grams
from logbook.projections.lookup import MachineView


def charcoal_items(asked: Asked, view: MachineView) -> list[DueItem]:
    """Lines for a machine that scavenges through charcoal, or on which a canister was recorded."""
    place = Place(view.machine, view.machine, "charcoal")
    canister = asked.known.charcoal.get(view.machine)
    if canister is None:
        wanted = view.scavenging == "charcoal"
        return [no_record(place, Clock.HOURS, Missing.CHANGE)] if wanted else []
    return list(_clocks(asked, place, canister))


def _clocks(asked: Asked, place: Place, canister: Canister) -> Iterator[DueItem]:
    values = asked.rules.for_machine(place.unit)
    reason = Changed(asked.moment.local(canister.at_s), recorded=canister.recorded)
    if limit_h := values["charcoal-hours"]:
        used_s = asked.known.ran.get(("charcoal", place.unit), Ran()).ran_s
        yield hours_item(asked, place, used_s=used_s, limit_h=limit_h, reason=reason)
    gained_g = canister.gained_g
    if values["charcoal-gain"] and gained_g is not None:
        yield amount_item(
            asked, place, clock=Clock.WEIGHT, used=gained_g, limit=values["charcoal-gain"],
            measure=Measure.GRAMS, reason=reason,
        )  # fmt: skip
    sent_g, untold = _sent(asked, place.unit)
    # Just after a weighing that tells the gain there is nothing to add to it.
    known = gained_g is not None and not sent_g and not untold
    if (limit_g := values["charcoal-agent"]) and not known:
        since = asked.moment.local(canister.known_s)
        yield amount_item(
            asked, place, clock=Clock.AGENT_SENT, used=(gained_g or Decimal(0)) + sent_g,
            limit=limit_g, measure=Measure.GRAMS,
            reason=Sent(since, weighed=gained_g is not None, untold_cases=untold),
        )  # fmt: skip


def _sent(asked: Asked, machine: str) -> tuple[Decimal, int]:
    """All agent in grams that cases sent to the charcoal since it was known what it held, as if
    patients and room took none of it, and how many cases told no flow or dial."""
    uses = [
        (view.agent, asked.known.sent_to_charcoal.get((machine, tag), Use()))
        for tag, view in asked.vaporizers.items()
    ]
    sent_g = sum((grams(agent, use.agent_ml) for agent, use in uses), Decimal(0))
    return sent_g, sum(use.untold_cases for _, use in uses)
