"""What a check need not ask today, and what the ledger counts beside what a person reads."""

from decimal import Decimal

from logbook.answers.absorbent import absorbent_items, load_since_change
from logbook.answers.charcoal import charcoal_items
from logbook.answers.item import Asked, Clock
from logbook.answers.standing import Standing
from logbook.checklists.model import Compares, When
from logbook.projections.lookup import MachineView


def not_today(asked: Asked, view: MachineView) -> frozenset[When]:
    """What need not be looked at on a machine at this moment; where nobody can tell, it must."""
    early: dict[When, bool] = {
        "absorbent-half": _barely_used(asked, view),
        "charcoal-weekly": _weighed(asked, view),
    }
    return frozenset(when for when, skipped in early.items() if skipped)


def _barely_used(asked: Asked, view: MachineView) -> bool:
    """Whether the absorbent has run for less than the share of its hours that is set."""
    share = asked.rules.for_machine(view.machine)["absorbent-feel"]
    for item in absorbent_items(asked, view):
        if item.clock is Clock.HOURS and item.used is not None and item.limit:
            return item.used < item.limit * share / 100
    return False


def _weighed(asked: Asked, view: MachineView) -> bool:
    """Whether the charcoal was weighed within the days that are set, and no clock runs out."""
    canister = asked.known.charcoal.get(view.machine)
    if canister is None or canister.weighed_s is None:
        return False
    days = (asked.moment.day - asked.moment.day_of(canister.weighed_s)).days
    standings = {item.standing for item in charcoal_items(asked, view)}
    enough = asked.rules.for_machine(view.machine)["charcoal-weigh-days"]
    return days < enough and standings <= {Standing.OK}


def counted_here(asked: Asked, view: MachineView) -> dict[Compares, Decimal]:
    """What the ledger counts of that which a person reads elsewhere; hours to a hundredth."""
    if view.machine not in asked.known.absorbent:
        return {}
    hours = Decimal(load_since_change(asked, view.machine).ran_s) / 3600
    return {"absorbent-hours": round(hours, 2)}
