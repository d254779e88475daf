"""The statements that read facts for all units at once; each takes the tags as ``units`` and the
moment as ``at_s``, is built once, and seeks in an index for each unit."""

from functools import cache
from typing import Any

from sqlalchemy import Select, and_, bindparam, func, select, tuple_

from logbook.projections.lookup import evidence_s, newest, tags
from logbook.projections.tables import (
    absorbent_change,
    agent_level,
    charcoal,
    check,
    checklist,
    fault,
    machine,
    oxygen,
    return_to_service,
    service,
    service_plan,
    vaporizer,
)

LAST_COMPARED = 5
"""How many comparisons of use are looked at; our own choice."""
READ_FOR_THEM = 2 * LAST_COMPARED
"""How many levels or gauges are read for them, because not every one tells what was used."""


@cache
def absorbent_changes() -> Any:
    """The last absorbent change of each machine."""
    return newest(absorbent_change, machine, all=())


@cache
def exhausted_seen() -> Select[Any]:
    """The checks since the last absorbent change that saw exhausted granules."""
    return (
        select(check)
        .where(
            check.c.machine.in_(bindparam("units", expanding=True)),
            check.c.exhausted.is_not(None),
            check.c.at_s >= _last_change_s(),
            check.c.at_s <= bindparam("at_s"),
        )
        .order_by(check.c.at_s, check.c.entry)
    )


def _last_change_s() -> Any:
    change = absorbent_change
    since = select(func.max(change.c.at_s)).where(
        change.c.machine == check.c.machine, change.c.at_s <= bindparam("at_s")
    )
    return since.scalar_subquery()


@cache
def canisters() -> Select[Any]:
    """What was written of the charcoal canister since it was changed."""
    unit, change = tags(machine), charcoal.alias()
    since = select(func.max(change.c.at_s)).where(
        change.c.machine == unit.c.tag, change.c.event == "change",
        change.c.at_s <= bindparam("at_s"),
    ).correlate(unit)  # fmt: skip
    of_unit = and_(charcoal.c.machine == unit.c.tag, charcoal.c.at_s >= since.scalar_subquery())
    return (
        select(charcoal)
        .join(unit, of_unit)
        .where(charcoal.c.at_s <= bindparam("at_s"))
        .order_by(charcoal.c.at_s, charcoal.c.entry)
    )


@cache
def last_services() -> Select[Any]:
    """The newest service of each item that is planned; one not verified changes nothing."""
    planned = (
        select(service_plan.c.unit, service_plan.c.item)
        .where(service_plan.c.unit.in_(bindparam("units", expanding=True)))
        .distinct()
        .subquery()
    )
    one = service.alias()
    last = (
        select(one.c.entry)
        .where(
            one.c.unit == planned.c.unit,
            one.c.item == planned.c.item,
            one.c.at_s <= bindparam("at_s"),
            one.c.outcome != "not verified",
        )
        .order_by(one.c.at_s.desc(), one.c.entry.desc())
        .limit(1)
        .correlate(planned)
        .scalar_subquery()
    )
    return select(service).join(planned, service.c.entry == last)


@cache
def own_lists() -> Select[Any]:
    """The newest version of each of the clinic's own lists."""
    newer = checklist.alias()
    version = select(func.max(newer.c.version)).where(newer.c.checklist == checklist.c.checklist)
    return select(checklist).where(checklist.c.version == version.scalar_subquery())


@cache
def oxygen_seen() -> Any:
    """The last readings of cylinder and pipeline, and the last change of the cylinder."""
    return newest(
        oxygen, machine,
        cylinder=(oxygen.c.cylinder_psi.is_not(None),),
        pipeline=(oxygen.c.pipeline_psi.is_not(None),),
        change=(oxygen.c.event == "change",),
    )  # fmt: skip


@cache
def open_faults() -> Select[Any]:
    """The stopping faults that no return to service has ended.

    A return ends the faults before its evidence. Where the evidence is withdrawn, or a fault
    between the two is told late, the unit is out of service again.
    """
    back = return_to_service
    seen_s = evidence_s(back.c.unit, back.c.evidence_entry)
    ended = select(back.c.entry).where(
        back.c.unit == fault.c.unit,
        back.c.at_s >= fault.c.at_s,
        back.c.at_s <= bindparam("at_s"),
        seen_s <= back.c.at_s,
        # What happened in the same second is told apart by the order of writing.
        tuple_(seen_s, back.c.evidence_entry) > tuple_(fault.c.at_s, fault.c.entry),
    )
    return (
        select(fault)
        .where(
            fault.c.unit.in_(bindparam("units", expanding=True)),
            fault.c.stops.is_(True),
            fault.c.at_s <= bindparam("at_s"),
            ~ended.exists(),
        )
        .order_by(fault.c.at_s, fault.c.entry)
    )


@cache
def last_levels() -> Select[Any]:
    """The fills and readings that the last comparisons of a vaporizer need."""
    unit, read = tags(vaporizer), agent_level.alias()
    first = (
        select(read.c.at_s)
        .where(
            read.c.vaporizer == unit.c.tag,
            read.c.level_ml.is_not(None),
            read.c.at_s <= bindparam("at_s"),
        )
        .order_by(read.c.at_s.desc())
        .offset(READ_FOR_THEM)
        .limit(1)
        .correlate(unit)
        .scalar_subquery()
    )
    of_unit = and_(
        agent_level.c.vaporizer == unit.c.tag, agent_level.c.at_s >= func.coalesce(first, 0)
    )
    return (
        select(agent_level)
        .join(unit, of_unit)
        .where(agent_level.c.at_s <= bindparam("at_s"))
        .order_by(agent_level.c.at_s, agent_level.c.entry)
    )


@cache
def cylinder_readings() -> Select[Any]:
    """The gauges of a cylinder that its last comparisons need, from a change of cylinder on."""
    unit, read, change = tags(machine), oxygen.alias(), oxygen.alias()
    first_s = (
        select(read.c.at_s)
        .where(
            read.c.machine == unit.c.tag,
            read.c.cylinder_psi.is_not(None),
            read.c.at_s <= bindparam("at_s"),
        )
        .order_by(read.c.at_s.desc())
        .offset(READ_FOR_THEM)
        .limit(1)
        .correlate(unit)
        .scalar_subquery()
    )
    since_s = (
        select(func.max(change.c.at_s))
        .where(
            change.c.machine == unit.c.tag,
            change.c.event == "change",
            change.c.at_s <= func.coalesce(first_s, 0),
        )
        .correlate(unit)
        .scalar_subquery()
    )
    return (
        select(oxygen)
        .join(unit, oxygen.c.machine == unit.c.tag)
        .where(
            oxygen.c.at_s >= func.coalesce(since_s, 0),
            oxygen.c.at_s <= bindparam("at_s"),
            oxygen.c.cylinder_psi.is_not(None),
        )
        .order_by(oxygen.c.at_s, oxygen.c.entry)
    )
