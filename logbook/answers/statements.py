"""The statements that read facts for all units at once; each takes the tags as ``units`` and the
moment as ``at_s``, is built once, and seeks in an index for each unit."""

from functools import cache
from typing import Any

from sqlalchemy import (
    Column,
    ColumnElement,
    Select,
    Subquery,
    Table,
    and_,
    bindparam,
    false,
    func,
    literal,
    or_,
    select,
    true,
    tuple_,
    union,
)

from logbook.ledger.schema import entry
from logbook.projections.lookup import OUTPUT_VERIFICATION, evidence_s, newest, tags
from logbook.projections.tables import (
    absorbent_change,
    agent_level,
    charcoal,
    check,
    checklist,
    fault,
    fault_close,
    machine,
    mention,
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
        select(check, entry.c.recorded_at)
        .join(entry, entry.c.seq == check.c.entry)
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
        select(charcoal, entry.c.recorded_at)
        .select_from(charcoal)
        .join(unit, of_unit)
        .join(entry, entry.c.seq == charcoal.c.entry)
        .where(charcoal.c.at_s <= bindparam("at_s"))
        .order_by(charcoal.c.at_s, charcoal.c.entry)
    )


@cache
def last_services() -> Select[Any]:
    """The newest service of each item that is planned, and verification of each vaporizer's
    output, planned or not; one not verified changes nothing."""
    units: Any = bindparam("units", expanding=True)
    plans = select(service_plan.c.unit, service_plan.c.item).where(service_plan.c.unit.in_(units))
    verified = select(vaporizer.c.vaporizer, literal(OUTPUT_VERIFICATION)).where(
        vaporizer.c.vaporizer.in_(units)
    )
    planned = union(plans, verified).subquery()
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
    return (
        select(service, entry.c.recorded_at)
        .select_from(service)
        .join(planned, service.c.entry == last)
        .join(entry, entry.c.seq == service.c.entry)
    )


@cache
def own_lists() -> Select[Any]:
    """The newest version of each of the clinic's own lists."""
    newer = checklist.alias()
    version = select(func.max(newer.c.version)).where(newer.c.checklist == checklist.c.checklist)
    return select(checklist).where(checklist.c.version == version.scalar_subquery())


@cache
def oxygen_seen(cylinders: int) -> Any:
    """The last reading of the pipeline, and of each cylinder the last gauge and change."""
    kinds: dict[str, Any] = {"pipeline": (oxygen.c.pipeline_psi.is_not(None),)}
    for number in range(1, cylinders + 1):
        of_it = oxygen.c.number == number
        kinds[f"gauge {number}"] = (of_it, oxygen.c.cylinder_psi.is_not(None))
        kinds[f"change {number}"] = (of_it, oxygen.c.event == "change")
    return newest(oxygen, machine, **kinds)


def returns_ending(what: Any) -> Select[Any]:
    """Of the returns to service that end a fault of the query around it, a column.

    A return ends the faults before its evidence. Where the evidence is withdrawn, or a fault
    between the two is told late, the unit is out of service again.
    """
    back = return_to_service
    seen_s = evidence_s(back.c.unit, back.c.evidence_entry)
    return (
        select(what)
        .where(
            back.c.unit == fault.c.unit,
            back.c.at_s >= fault.c.at_s,
            seen_s <= back.c.at_s,
            # What happened in the same second is told apart by the order of writing.
            tuple_(seen_s, back.c.evidence_entry) > tuple_(fault.c.at_s, fault.c.entry),
        )
        .correlate(fault)
    )


@cache
def open_faults() -> Select[Any]:
    """The faults that stand open: those that stop their unit until a return to service ends them,
    and the others until somebody closes them."""
    ended = returns_ending(return_to_service.c.entry)
    ended = ended.where(return_to_service.c.at_s <= bindparam("at_s"))
    closed = (
        select(fault_close.c.entry)
        .where(fault_close.c.fault_entry == fault.c.entry, fault_close.c.at_s <= bindparam("at_s"))
        .correlate(fault)
    )
    stops = fault.c.stops
    return (
        select(fault, entry.c.recorded_at)
        .select_from(fault)
        .join(entry, entry.c.seq == fault.c.entry)
        .where(
            fault.c.unit.in_(bindparam("units", expanding=True)),
            fault.c.at_s <= bindparam("at_s"),
            or_(
                and_(stops.is_(true()), ~ended.exists()), and_(stops.is_(false()), ~closed.exists())
            ),
        )
        .order_by(fault.c.at_s, fault.c.entry)
    )


def _last_read_s(table: Table, unit: Subquery, measured: Column[Any]) -> Any:
    """When the last readings of a unit that are looked at began; 0 where there are fewer."""
    read = table.alias()
    first = (
        select(read.c.at_s)
        .where(
            read.c[_unit_of(table)] == unit.c.tag,
            read.c[measured.name].is_not(None),
            *_of_the_first(read),
            read.c.at_s <= bindparam("at_s"),
        )
        .order_by(read.c.at_s.desc())
        .offset(READ_FOR_THEM)
        .limit(1)
        .correlate(unit)
        .scalar_subquery()
    )
    return func.coalesce(first, 0)


def _of_the_first(table: Any) -> list[ColumnElement[bool]]:
    """Use is compared on machines of one cylinder alone, and only so the index is of help."""
    return [table.c.number == 1] if "number" in table.c else []


def _unit_of(table: Table) -> str:
    return "machine" if "machine" in table.c else "vaporizer"


@cache
def evidence() -> Select[Any]:
    """What was recorded of units from ``since_s`` on that can serve as evidence, and when."""
    seen_s = evidence_s(mention.c.name, mention.c.entry)
    return (
        select(mention.c.name.label("unit"), mention.c.entry, seen_s.label("seen_s"))
        .where(
            mention.c.name.in_(bindparam("units", expanding=True)),
            mention.c.at_s >= bindparam("since_s"),
            seen_s <= bindparam("at_s"),
        )
        .order_by(mention.c.entry)
    )


@cache
def last_levels() -> Select[Any]:
    """The fills and readings that the last comparisons of a vaporizer need."""
    unit, level = tags(vaporizer), agent_level
    since_s = _last_read_s(level, unit, level.c.level_ml)
    return (
        select(level, entry.c.recorded_at)
        .select_from(level)
        .join(unit, and_(level.c.vaporizer == unit.c.tag, level.c.at_s >= since_s))
        .join(entry, entry.c.seq == level.c.entry)
        .where(level.c.at_s <= bindparam("at_s"))
        .order_by(level.c.at_s, level.c.entry)
    )


@cache
def cylinder_readings() -> Select[Any]:
    """The gauges of a cylinder that its last comparisons need, from a change of cylinder on."""
    unit, change = tags(machine), oxygen.alias()
    since_s = (
        select(func.max(change.c.at_s))
        .where(
            change.c.machine == unit.c.tag,
            change.c.event == "change",
            *_of_the_first(change),
            change.c.at_s <= _last_read_s(oxygen, unit, oxygen.c.cylinder_psi),
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
            *_of_the_first(oxygen),
        )
        .order_by(oxygen.c.at_s, oxygen.c.entry)
    )
