"""The statements of an audit: each takes the tags as ``units`` and the span as ``from_s`` and
``to_s``, is built once, and seeks in an index for each unit."""

from functools import cache
from typing import Any

from sqlalchemy import Select, Table, bindparam, func, select, true, union_all

from logbook.answers.recorded import recorded_before
from logbook.answers.statements import returns_ending
from logbook.ledger.schema import entry
from logbook.projections.lookup import OUTPUT_VERIFICATION, case_ended, newest
from logbook.projections.tables import (
    absorbent_change,
    case,
    check,
    fault,
    machine,
    mention,
    restore,
    return_to_service,
    service,
)
from logbook.vocabulary import LONGEST_CASE_S

_UNITS: Any = bindparam("units", expanding=True)
_FROM: Any = bindparam("from_s")
_TO: Any = bindparam("to_s")


def _within(table: Table) -> Any:
    return (table.c.at_s >= _FROM) & (table.c.at_s < _TO)


@cache
def cases() -> Select[Any]:
    """The cases that began in the span or not long before it, with how they were recorded."""
    return (
        select(case, case_ended().label("end_s"), entry.c.recorded_at)
        .join(entry, entry.c.seq == case.c.entry)
        .where(
            case.c.machine.in_(_UNITS),
            case.c.began_s > _FROM - LONGEST_CASE_S,
            case.c.began_s < _TO,
        )
        .order_by(case.c.began_s, case.c.entry)
    )


@cache
def case_machines() -> Select[Any]:
    """The machine of each case that ended in the span."""
    return (
        select(case.c.entry, case.c.machine)
        .join(mention, mention.c.refers == case.c.entry)
        .where(mention.c.name.is_(None), _within(mention))
    )


@cache
def checks() -> Select[Any]:
    """The checks of the span."""
    return (
        select(check, entry.c.recorded_at)
        .join(entry, entry.c.seq == check.c.entry)
        # Every check is one or the other, and so the index by leak test finds it.
        .where(check.c.machine.in_(_UNITS), check.c.leak_passed.in_((0, 1)), _within(check))
        .order_by(check.c.machine, check.c.at_s, check.c.entry)
    )


@cache
def leak_tested() -> Any:
    """The last passed leak test of each machine up to ``at_s``."""
    return newest(check, machine, leak=(check.c.leak_passed == 1,))


@cache
def changes() -> Select[Any]:
    """The absorbent changes of the span, and the last one of each machine up to ``at_s``."""
    last = newest(absorbent_change, machine, all=()).subquery()
    since = select(absorbent_change.c.entry).where(
        absorbent_change.c.machine.in_(_UNITS), _within(absorbent_change)
    )
    found = union_all(select(last.c.entry), since).subquery()
    return (
        select(absorbent_change)
        .join(found, found.c.entry == absorbent_change.c.entry)
        .order_by(absorbent_change.c.machine, absorbent_change.c.at_s, absorbent_change.c.entry)
    )


@cache
def stopping_faults() -> Select[Any]:
    """What kept units from use up to the end of the span, and when a return ended it."""
    ended_s = returns_ending(func.min(return_to_service.c.at_s)).scalar_subquery()
    return (
        select(fault, ended_s.label("ended_s"))
        .where(fault.c.unit.in_(_UNITS), fault.c.stops.is_(true()), fault.c.at_s < _TO)
        .order_by(fault.c.at_s, fault.c.entry)
    )


@cache
def returns() -> Select[Any]:
    """The returns to service of the span, with who signed them."""
    back = return_to_service
    return (
        select(back)
        .where(back.c.unit.in_(_UNITS), _within(back))
        .order_by(back.c.at_s, back.c.entry)
    )


@cache
def restores() -> Select[Any]:
    """The times in the span at which the ledger was brought back from a copy."""
    return (
        select(restore, entry.c.by)
        .join(entry, entry.c.seq == restore.c.entry)
        .where(_within(restore))
    )


@cache
def verifications() -> Select[Any]:
    """Every verification up to the end of the span; one not verified changes nothing."""
    return (
        select(service)
        .where(
            service.c.unit.in_(_UNITS),
            service.c.item == OUTPUT_VERIFICATION,
            service.c.outcome != "not verified",
            service.c.at_s < _TO,
        )
        .order_by(service.c.at_s, service.c.entry)
    )


@cache
def written() -> Select[Any]:
    """Every entry that tells of the span and names one of the units, or none."""
    columns = (mention.c.entry, mention.c.name, mention.c.refers)
    about = union_all(
        select(*columns).where(mention.c.name.in_(_UNITS), _within(mention)),
        select(*columns).where(mention.c.name.is_(None), _within(mention)),
    ).subquery()
    header = (entry.c.seq, entry.c.kind, entry.c.happened_at, entry.c.recorded_at, entry.c.by)
    return (
        select(about, *header, case.c.ended_s, recorded_before())
        .join(entry, entry.c.seq == about.c.entry)
        .outerjoin(case, case.c.entry == entry.c.seq)
        .order_by(entry.c.seq)
    )
