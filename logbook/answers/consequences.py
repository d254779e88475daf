"""What follows from an entry: said by every door while the person still stands at the machine."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from sqlalchemy import Connection

from logbook.answers.absorbent import absorbent_items
from logbook.answers.agent import agent_left
from logbook.answers.cases import flags_at
from logbook.answers.charcoal import charcoal_items
from logbook.answers.consequence import (
    AboveCapacity,
    Care,
    Caution,
    ComesBack,
    Consequence,
    CylinderLow,
    Expired,
    Flagged,
    ItemFailed,
    LeakTestFirst,
    Left,
    NotChecked,
    NotToBeUsed,
    NowDue,
    NowSays,
    OutOfService,
    PipelineOff,
    Ran,
    Stands,
    StaysInService,
    UseSeen,
)
from logbook.answers.drift import Compared, agent_compared, drifts, oxygen_compared
from logbook.answers.due import worst_first
from logbook.answers.item import Asked, ask
from logbook.answers.moment import Moment
from logbook.answers.service import service_items
from logbook.answers.service_state import open_faults
from logbook.arithmetic.oxygen import pipeline_allowed
from logbook.checklists import POP_OFF_OPEN
from logbook.entries.base import Body
from logbook.entries.book import Correction
from logbook.entries.case import Case, CaseBegin, CaseEnd
from logbook.entries.check import Check
from logbook.entries.fault import Fault
from logbook.entries.service import Service, ServicePlan
from logbook.entries.supplies import (
    AbsorbentChange,
    AgentFill,
    AgentLevel,
    CharcoalWeight,
    CylinderChange,
    OxygenReading,
)
from logbook.entries.vaporizer import VaporizerFitting
from logbook.ledger.store import Entry
from logbook.projections.project import counting

B_co = TypeVar("B_co", bound=Body, covariant=True)


@dataclass(frozen=True, slots=True)
class After(Generic[B_co]):
    """An entry that was saved, the moment after it, and what it says."""

    connection: Connection
    moment: Moment
    entry: Entry
    body: B_co

    def ask(self) -> Asked:
        """What stands in the ledger now."""
        return ask(self.connection, self.moment)


def consequences(connection: Connection, entry: Entry, moment: Moment) -> list[Consequence]:
    """What follows from an entry at a moment after it, in the order in which it is said."""
    return list(FOLLOWS[entry.kind](After(connection, moment, entry, entry.body)))


def _nothing(_: After[Body]) -> Iterator[Consequence]:
    yield from ()


def _flags(after: After[Case | CaseBegin]) -> Iterator[Consequence]:
    body, at_s = after.body, after.entry.at_s
    zone = after.moment.zone
    for flag in flags_at(after.connection, zone, body.machine, at_s, body.vaporizer):
        yield Flagged(flag)
    yield from _absorbent_now(after, body.machine)


def _absorbent_now(after: After[Body], machine: str) -> Iterator[Consequence]:
    asked = after.ask()
    view = asked.machines.get(machine)
    for item in absorbent_items(asked, view) if view else []:
        if item.standing in ("due", "overdue"):
            yield NowDue(item)


def _case_begin(after: After[CaseBegin]) -> Iterator[Consequence]:
    if after.body.pop_off_open is False:
        yield Caution(Care.POP_OFF_SHUT)
    yield from _flags(after)
    if after.body.pop_off_open is None:
        yield Caution(Care.POP_OFF_UNSEEN)


def _case_end(after: After[CaseEnd]) -> Iterator[Consequence]:
    begun = counting(after.connection, after.body.case_entry)
    if begun is not None and isinstance(begun.body, CaseBegin):
        yield Ran(begun.body.machine, after.entry.at_s - begun.at_s)
        yield from _absorbent_now(after, begun.body.machine)


def _absorbent_change(after: After[AbsorbentChange]) -> Iterator[Consequence]:
    expiry = after.body.expiry
    if expiry and expiry < after.moment.day_of(after.entry.at_s):
        yield Expired(expiry)


def _agent(after: After[AgentFill | AgentLevel]) -> Iterator[Consequence]:
    asked, level_ml = after.ask(), after.body.level_ml
    view = asked.vaporizers[after.body.vaporizer]
    yield Left(view.vaporizer, agent_left(asked, view))
    compared = agent_compared(asked, view)
    yield from _use_seen(after, [one for one in compared if one.entry <= after.entry.seq], "mL")
    if level_ml is not None and view.capacity_ml is not None and level_ml > view.capacity_ml:
        yield AboveCapacity(view.vaporizer)


def _use_seen(after: After[Body], compared: list[Compared], measure: str) -> Iterator[Consequence]:
    seen = [UseSeen(one, measure) for one in compared if one.entry == after.entry.seq]
    yield from seen
    if seen and drifts(compared):
        yield Caution(Care.USE_DRIFTS)


def _oxygen(after: After[OxygenReading | CylinderChange]) -> Iterator[Consequence]:
    asked, machine, gauge_psi = after.ask(), after.body.machine, after.body.cylinder_psi
    rules = asked.rules.for_machine(machine)
    if gauge_psi is not None and gauge_psi < rules["cylinder-low"]:
        yield CylinderLow(rules["cylinder-low"])
    pipeline_psi, allowed = getattr(after.body, "pipeline_psi", None), pipeline_allowed(rules)
    if pipeline_psi is not None and not allowed.includes(pipeline_psi):
        yield PipelineOff(allowed)
    yield from _use_seen(after, oxygen_compared(asked, machine), "L")


def _charcoal(after: After[CharcoalWeight]) -> Iterator[Consequence]:
    asked = after.ask()
    view = asked.machines.get(after.body.machine)
    for item in worst_first(charcoal_items(asked, view)) if view else []:
        yield Stands(item)


def _plan(after: After[ServicePlan | Service]) -> Iterator[Consequence]:
    about = (after.body.unit, after.body.item)
    for item in service_items(after.ask()):
        if (item.unit, item.item) == about:
            yield Stands(item)


def _service(after: After[Service]) -> Iterator[Consequence]:
    if after.body.outcome == "failed":
        yield OutOfService(after.body.unit)
    yield from _plan(after)


def _fault(after: After[Fault]) -> Iterator[Consequence]:
    unit = after.body.unit
    if not after.body.stops:
        yield StaysInService(unit)
        return
    yield OutOfService(unit, until_cleared=True)
    yield ComesBack(unit)


def _fitting(after: After[VaporizerFitting]) -> Iterator[Consequence]:
    body = after.body
    faults = open_faults(after.connection, body.vaporizer, after.entry.at_s)
    for fault in faults:
        yield NotToBeUsed(fault)
    if not faults:
        yield LeakTestFirst(body.machine, body.vaporizer)


def _check(after: After[Check]) -> Iterator[Consequence]:
    body = after.body
    failed = [one for one in body.answers if one.state == "failed"]
    for answer in failed:
        yield ItemFailed(answer)
    if any(answer.stops for answer in failed):
        yield OutOfService(body.machine)
    if any(answer.absorbent_due for answer in body.answers):
        yield Caution(Care.CHANGE_ABSORBENT)
    last = body.answers[-1]
    if last.item == POP_OFF_OPEN and last.state != "passed":
        yield Caution(Care.POP_OFF_UNCONFIRMED)
    if body.verdict == "incomplete":
        yield NotChecked(body.machine)


def _correction(after: After[Correction]) -> Iterator[Consequence]:
    now_says = counting(after.connection, after.body.corrects)
    if now_says is not None:
        yield NowSays(now_says)


FOLLOWS: dict[str, Callable[[After[Any]], Iterator[Consequence]]] = {
    "clinic": _nothing,
    "staff": _nothing,
    "machine": _nothing,
    "machine_change": _nothing,
    "machine_retirement": _nothing,
    "vaporizer": _nothing,
    "vaporizer_fitting": _fitting,
    "vaporizer_removal": _nothing,
    "check": _check,
    "checklist": _nothing,
    "case": _flags,
    "case_begin": _case_begin,
    "case_end": _case_end,
    "absorbent_change": _absorbent_change,
    "agent_fill": _agent,
    "agent_level": _agent,
    "oxygen_reading": _oxygen,
    "cylinder_change": _oxygen,
    "charcoal_change": _nothing,
    "charcoal_weight": _charcoal,
    "service_plan": _plan,
    "service": _service,
    "fault": _fault,
    "return_to_service": _nothing,
    "rule_change": _nothing,
    "correction": _correction,
    "restore": _nothing,
    "note": _nothing,
}
"""What follows from an entry, by its kind."""
