"""The clocks of a charcoal canister: hours in use and weight gained."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Row, select

from logbook.answers.item import Asked, DueItem, Place, amount_item, hours_item, no_record
from logbook.answers.usage import machine_run_s
from logbook.projections.lookup import MachineView
from logbook.projections.tables import charcoal
from logbook.times import local_text, utc_from_epoch_s


def charcoal_items(asked: Asked, view: MachineView) -> list[DueItem]:
    """Lines for a machine that scavenges through charcoal, or on which a canister was recorded."""
    tag = view.machine
    place = Place(tag, tag, "charcoal")
    query = select(charcoal).where(charcoal.c.machine == tag, charcoal.c.at_s <= asked.moment.at_s)
    rows = asked.connection.execute(query.order_by(charcoal.c.at_s, charcoal.c.entry)).all()
    changes = [place for place, row in enumerate(rows) if row.event == "change"]
    if not changes:
        reason = "no change is recorded"
        wanted = view.scavenging == "charcoal"
        return [no_record(place, "hours in use", reason)] if wanted else []
    since = rows[changes[-1]]
    values = asked.rules.for_machine(tag)
    reason = f"last change {local_text(utc_from_epoch_s(since.at_s), asked.moment.zone)}"
    items = []
    if limit_h := values["charcoal-hours"]:
        used_s = machine_run_s(asked.connection, tag, since.at_s, asked.moment.at_s)
        items.append(hours_item(asked, place, used_s=used_s, limit_h=limit_h, reason=reason))
    if values["charcoal-gain"]:
        items += _gain(asked, place, rows[changes[-1] :], reason)
    return items


def _gain(asked: Asked, place: Place, rows: Sequence[Row[Any]], reason: str) -> list[DueItem]:
    """Weight gained since the canister was fresh; without weighings the hours count alone."""
    limit_g = asked.rules.for_machine(place.unit)["charcoal-gain"]
    weights = [row.weight_g for row in rows if row.weight_g is not None]
    if rows[0].weight_g is None or len(weights) < 2:
        return []
    # A canister can dry and lose weight again, so the heaviest weighing counts.
    gained_g = max(weights) - rows[0].weight_g
    clock = "weight gained"
    return [
        amount_item(
            asked, place, clock=clock, used=gained_g, limit=limit_g, measure="g", reason=reason
        )
    ]
