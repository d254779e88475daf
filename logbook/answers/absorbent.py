"""The clocks of the absorbent: hours, days, agent, and what was seen at a check."""

from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, select, tuple_

from logbook.answers.item import Asked, DueItem, Place, amount_item, day_item, hours_item, no_record
from logbook.answers.standing import Standing
from logbook.answers.usage import LOADS_ABSORBENT, run_s_by_weight
from logbook.arithmetic.absorbent import capacity_l, co2_output_ml_min
from logbook.projections.lookup import MachineView
from logbook.projections.tables import absorbent_change, check, check_answer
from logbook.times import hours_text, local_text, utc_from_epoch_s
from logbook.units import format_decimal

EVERY_CIRCUIT = (*LOADS_ABSORBENT, "non-rebreathing")


def last_change(asked: Asked, machine: str) -> Row[Any] | None:
    """The last absorbent change on a machine up to the moment asked for."""
    table = absorbent_change
    query = select(table).where(table.c.machine == machine, table.c.at_s <= asked.moment.at_s)
    newest_first = query.order_by(table.c.at_s.desc(), table.c.entry.desc())
    return asked.connection.execute(newest_first.limit(1)).first()


def ran_s_by_weight(asked: Asked, machine: str, since_s: int) -> dict[Decimal | None, int]:
    """Seconds of use that loaded the absorbent since an instant, for each weight of patient."""
    every = asked.rules.for_machine(machine)["absorbent-counts-non-rebreathing"]
    circuits = EVERY_CIRCUIT if every else LOADS_ABSORBENT
    return run_s_by_weight(asked.connection, machine, since_s, asked.moment.at_s, circuits)


def absorbent_items(asked: Asked, view: MachineView) -> list[DueItem]:
    """One line for each clock that is on; whichever comes first counts."""
    place = Place(view.machine, view.machine, "absorbent")
    values = asked.rules.for_machine(view.machine)
    change = last_change(asked, view.machine)
    if change is None:
        return [no_record(place, "hours in use", "no change is recorded")]
    items = []
    reason = f"last change {local_text(utc_from_epoch_s(change.at_s), asked.moment.zone)}"
    # One pass over the cases serves both clocks that need their length.
    ran_s = ran_s_by_weight(asked, view.machine, change.at_s)
    if limit_h := values["absorbent-hours"]:
        used_s = sum(ran_s.values())
        items.append(hours_item(asked, place, used_s=used_s, limit_h=limit_h, reason=reason))
    if limit_d := values["absorbent-days"]:
        day = asked.moment.day_of(change.at_s)
        due_on = day + timedelta(days=int(limit_d))
        clock = "days since the change"
        items.append(day_item(asked, place, clock=clock, last=day, due_on=due_on, reason=reason))
    if (charge_g := change.mass_g or view.absorbent_g) and values["absorbent-co2"]:
        items.append(_co2_item(asked, place, ran_s, charge_g))
    if limit_ml := values["absorbent-agent"]:
        items.append(_agent_item(asked, place, change.at_s, limit_ml, reason))
    return items + _seen(asked, place, change)


def _co2_item(
    asked: Asked, place: Place, ran_s: Mapping[Decimal | None, int], charge_g: Decimal
) -> DueItem:
    """Carbon dioxide that the patients breathed out, against what the charge takes at least.

    Patients without a weight are not counted, so that this clock is a lower bound: it can only
    bring the change forward, never put it off.
    """
    percent = asked.rules.for_machine(place.machine)["absorbent-co2"]
    told = [(weight_g, lasted_s) for weight_g, lasted_s in ran_s.items() if weight_g]
    load_ml = sum((co2_output_ml_min(weight_g) * s / 60 for weight_g, s in told), Decimal(0))
    untold_s = ran_s.get(None, 0)
    without = f", {hours_text(untold_s)} h without a weight not counted" if untold_s else ""
    return amount_item(
        asked, place, clock="carbon dioxide", used=load_ml / 1000,
        limit=capacity_l(charge_g) * percent / 100, measure="L",
        reason=f"{format_decimal(charge_g)} g of absorbent{without}",
    )  # fmt: skip


def _agent_item(
    asked: Asked, place: Place, since_s: int, limit_ml: Decimal, reason: str
) -> DueItem:
    from logbook.answers.agent import machine_agent_ml

    used_ml = machine_agent_ml(asked, place.unit, since_s)
    clock = "agent used"
    return amount_item(
        asked, place, clock=clock, used=used_ml, limit=limit_ml, measure="mL", reason=reason
    )


def _seen(asked: Asked, place: Place, change: Row[Any]) -> list[DueItem]:
    """A colour change or hard granules seen since the change: due at once, as colour can revert."""
    query = (
        select(check.c.entry, check.c.at_s, check_answer.c.choice)
        .join(check_answer, check_answer.c.entry == check.c.entry)
        .where(
            check.c.machine == place.unit,
            tuple_(check.c.at_s, check.c.entry) > tuple_(change.at_s, change.entry),
            check.c.at_s <= asked.moment.at_s,
            check_answer.c.absorbent_due == 1,
        )
        .order_by(check.c.at_s)
        .limit(1)
    )
    seen = asked.connection.execute(query).first()
    if seen is None:
        return []
    day = asked.moment.day_of(seen.at_s)
    reason = f"granules {seen.choice} at the check of {day} (entry {seen.entry})"
    standing: Standing = "overdue" if day < asked.moment.day else "due"
    return [DueItem(*place, "seen at a check", None, None, None, standing, day, reason)]
