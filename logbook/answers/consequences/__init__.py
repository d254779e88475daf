"""What follows from an entry: said by every door while the person still stands at the machine."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from logbook.answers.consequence import Consequence, NowSays
from logbook.answers.consequences import cases, checks, supplies, units
from logbook.answers.consequences.after import After, still_out
from logbook.answers.moment import Moment
from logbook.answers.register import Register
from logbook.entries.base import Body
from logbook.ledger.store import Entry
from logbook.projections.project import counting

if TYPE_CHECKING:
    from logbook.entries.book import Correction


def consequences(register: Register, entry: Entry, moment: Moment) -> list[Consequence]:
    """What follows from an entry at a moment after it, in the order in which it is said: what may
    harm now comes first."""
    found = FOLLOWS[entry.kind](After(register, moment, entry, entry.body))
    return sorted(found, key=lambda one: not one.first)


KEEPING_FROM_USE = ("check", "service", "output_verification", "fault")
"""The kinds that can put a unit out of service."""


def _nothing(_: After[Body]) -> Iterator[Consequence]:
    yield from ()


def _correction(after: "After[Correction]") -> Iterator[Consequence]:
    """What the entry says now, and where that leaves its unit out of service."""
    now_says = counting(after.connection, after.body.corrects)
    if now_says is None:
        return
    yield NowSays(now_says)
    if now_says.kind in KEEPING_FROM_USE:
        told = After(after.register, after.moment, now_says, now_says.body)
        for unit in now_says.body.names().values():
            yield from still_out(told, unit)


FOLLOWS: dict[str, Callable[[After[Any]], Iterator[Consequence]]] = {
    "clinic": _nothing,
    "staff": _nothing,
    "machine": _nothing,
    "machine_change": _nothing,
    "machine_retirement": _nothing,
    "vaporizer": _nothing,
    "vaporizer_fitting": units.fitting,
    "vaporizer_removal": units.removal,
    "check": checks.check,
    "checklist": _nothing,
    "case": cases.case,
    "case_begin": cases.case_begin,
    "case_end": cases.case_end,
    "absorbent_change": supplies.absorbent_change,
    "agent_fill": supplies.agent_fill,
    "agent_level": supplies.agent,
    "oxygen_reading": supplies.oxygen,
    "cylinder_change": supplies.oxygen,
    "charcoal_change": _nothing,
    "charcoal_weight": supplies.charcoal,
    "service_plan": units.plan,
    "service": units.service,
    "output_verification": units.output_verification,
    "fault": units.fault,
    "fault_close": _nothing,
    "return_to_service": _nothing,
    "rule_change": _nothing,
    "correction": _correction,
    "restore": _nothing,
    "note": _nothing,
}
"""What follows from an entry, by its kind."""
