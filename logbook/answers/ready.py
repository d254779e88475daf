"""May this machine be used for the next patient? One verdict, with every reason, worst first.

The answer says what is recorded and what the rule is. It never says that a machine is safe.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from sqlalchemy import Connection

from logbook.answers.absorbent import absorbent_items, load_since_change
from logbook.answers.agent import AgentLeft, agent_left
from logbook.answers.charcoal import charcoal_items
from logbook.answers.drift import agent_compared, drifts
from logbook.answers.gauges import opened_since
from logbook.answers.item import Asked, Clock, DueItem, ask_about
from logbook.answers.lists import list_items
from logbook.answers.moment import Moment
from logbook.answers.oxygen import OxygenLeft, cylinders_on, oxygen_left
from logbook.answers.planning import in_use
from logbook.answers.reason import (
    WORST_FIRST,
    AbsorbentShort,
    AgentStands,
    BeingChecked,
    Checked,
    CylinderLow,
    InUse,
    LeakTestOwed,
    Level,
    LevelUnknown,
    NoGauge,
    NotChecked,
    NotCounted,
    NoVaporizer,
    OpenFaultNoted,
    OutOfService,
    OxygenStands,
    PipelineReads,
    PopOffSeen,
    PopOffUnseen,
    Reason,
    SizeUnknown,
    Stands,
    UseDrifts,
    Weight,
)
from logbook.answers.service import service_items
from logbook.answers.standing import Standing
from logbook.answers.unfinished import LIMIT
from logbook.arithmetic.oxygen import minutes_left, pipeline_allowed
from logbook.arithmetic.setup import Setup
from logbook.projections.lookup import VaporizerView


class Readiness(StrEnum):
    """The verdict."""

    READY = "ready"
    REMARKS = "ready, with remarks"
    NOT_READY = "not ready"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True)
class Ready:
    """The verdict with its reasons, the worst first."""

    machine: str
    readiness: Readiness
    reasons: list[Reason]

    @property
    def may_be_used(self) -> bool:
        """Whether nothing recorded speaks against it and nothing needed is without a record."""
        return self.readiness in (Readiness.READY, Readiness.REMARKS)


@dataclass(frozen=True, slots=True)
class _Question:
    asked: Asked
    machine: str
    planned_s: int | None
    setup: Setup | None
    agent: str | None = None
    dial_percent: Decimal | None = None

    @property
    def vaporizers(self) -> list[VaporizerView]:
        return [one for one in self.asked.vaporizers.values() if one.machine == self.machine]

    @property
    def rebreathing(self) -> bool:
        return self.setup is None or self.setup.circuit.rebreathing

    def local(self, at: datetime) -> datetime:
        return at.astimezone(self.asked.moment.zone)


def ready(
    connection: Connection,
    moment: Moment,
    machine: str,
    *,
    planned_s: int | None = None,
    setup: Setup | None = None,
    agent: str | None = None,
    dial_percent: Decimal | None = None,
) -> Ready:
    """The verdict on one machine. With a planned time in seconds the absorbent must cover it; with
    a set-up, agent and oxygen too: each vaporizer by its own agent, at its planning dial or the
    one told, and only those of ``agent`` where one is named.

    Raises:
        InputError: there is no such machine in use.
    """
    asked = ask_about(connection, moment, machine)
    in_use(connection, asked, machine)
    return _answer(_Question(asked, machine, planned_s, setup, agent, dial_percent))


def ready_from(asked: Asked, machine: str) -> Ready:
    """The same from tables that were read already, for a board of many machines."""
    return _answer(_Question(asked, machine, None, None))


def _answer(question: _Question) -> Ready:
    reasons = [one for part in _PARTS for one in part(question)]
    reasons.sort(key=lambda one: WORST_FIRST.index(one.weight))
    return Ready(question.machine, _readiness(reasons), reasons)


def _readiness(reasons: list[Reason]) -> Readiness:
    weights = {one.weight for one in reasons}
    if "stops" in weights:
        return Readiness.NOT_READY
    if "unknown" in weights:
        return Readiness.CANNOT_TELL
    return Readiness.REMARKS if "remark" in weights else Readiness.READY


def _faults(question: _Question) -> Iterator[Reason]:
    for unit in [question.machine, *(one.vaporizer for one in question.vaporizers)]:
        for fault in question.asked.known.faults.get(unit, []):
            yield OutOfService("stops", fault, question.local(fault.at))
        for fault in question.asked.known.noted.get(unit, []):
            yield OpenFaultNoted("remark", fault, question.local(fault.at))


def _in_use(question: _Question) -> Iterator[Reason]:
    case = question.asked.known.running.get(question.machine)
    if case is not None:
        yield InUse("stops", case.entry, question.asked.moment.local(case.began_s))


def _check(question: _Question) -> Iterator[Reason]:
    done = question.asked.known.checks.today(question.machine)
    if done is None:
        yield NotChecked("unknown")
        return
    passed = done.verdict == "passed"
    yield Checked("fine" if passed else "stops", done, question.local(done.at))


def _begun(question: _Question) -> Iterator[Reason]:
    """A check that somebody walks, or left: nothing of it counts before it is finished."""
    asked = question.asked
    limit_h = asked.rules.for_machine(question.machine)[LIMIT]
    now = asked.moment.local(asked.moment.at_s)
    for begun in asked.known.begun:
        if begun.machine == question.machine and begun.begun_at <= now:
            yield BeingChecked("remark", begun, now, limit_h)


def _pop_off(question: _Question) -> Iterator[Reason]:
    seen = question.asked.known.checks.pop_off(question.machine)
    if seen is None:
        yield PopOffUnseen("unknown")
        return
    weight: Weight = "fine" if seen.is_open else "stops"
    yield PopOffSeen(weight, seen, question.local(seen.at))


def _absorbent(question: _Question) -> Iterator[Reason]:
    asked, view = question.asked, question.asked.machines[question.machine]
    for item in absorbent_items(asked, view):
        weight = _WEIGHTS_STRICT[item.standing]
        if not question.rebreathing and weight != "fine":
            yield Stands("remark", item, used=False)
            continue
        yield Stands(weight, item)
        if weight in ("fine", "remark") and item.clock is Clock.HOURS:
            yield from _absorbent_covers(question, item)


def _absorbent_covers(question: _Question, item: DueItem) -> Iterator[Reason]:
    if question.planned_s is None or not question.rebreathing or item.limit is None:
        return
    used_s = load_since_change(question.asked, question.machine).ran_s
    left_s = int(item.limit * 3600) - used_s
    if question.planned_s > left_s:
        yield AbsorbentShort("stops", left_s, question.planned_s)


def _agent(question: _Question) -> Iterator[Reason]:
    agents = [one.agent for one in question.vaporizers]
    if not agents:
        yield NoVaporizer("remark" if question.planned_s is None else "stops", None)
    elif question.agent is not None and question.agent not in agents:
        yield NoVaporizer("stops", question.agent)
    for view in question.vaporizers:
        yield _agent_in(question, view)
        if drifts(agent_compared(question.asked, view)):
            yield UseDrifts("remark", view.vaporizer)


def _agent_in(question: _Question, view: VaporizerView) -> Reason:
    left = agent_left(question.asked, view)
    if left.left_ml is None:
        return LevelUnknown("unknown", view.vaporizer)
    needed_ml = _needed_ml(question, view)
    weight, level = _level(view, left.left_ml, needed_ml, left)
    return AgentStands(weight, view.vaporizer, left, level, needed_ml)


def _level(
    view: VaporizerView, left_ml: Decimal, needed_ml: Decimal, left: AgentLeft
) -> tuple[Weight, Level]:
    if view.capacity_ml is not None and left_ml > view.capacity_ml:
        return "stops", Level.OVERFULL
    if left.low or left_ml - (view.low_mark_ml or 0) < needed_ml:
        return "stops", Level.LOW
    return ("remark", Level.UNTOLD) if left.untold_cases else ("fine", Level.ENOUGH)


def _needed_ml(question: _Question, view: VaporizerView) -> Decimal:
    """What the case takes of a vaporizer's own agent; nothing where another one is named."""
    if question.setup is None or question.agent not in (None, view.agent):
        return Decimal(0)
    return question.setup.needed_ml(view.agent, question.dial_percent, view.design)


def _oxygen(question: _Question) -> Iterator[Reason]:
    asked = question.asked
    pipeline = asked.known.pipeline(question.machine)
    if pipeline is not None and question.local(pipeline.at).date() == asked.moment.day:
        allowed = pipeline_allowed(asked.rules.for_machine(question.machine))
        if allowed.includes(pipeline.psi):
            yield PipelineReads("fine", pipeline, allowed)
            yield from _low_reserve(question)
            return
        yield PipelineReads("stops", pipeline, allowed)
    yield from _cylinders(question)


def _low_reserve(question: _Question) -> Iterator[Reason]:
    """On the pipeline the cylinder is what is left when the pipeline fails."""
    low_psi = _low_psi(question)
    for one in cylinders_on(question.asked, question.machine):
        if one.gauge is not None and one.gauge.psi < low_psi:
            yield CylinderLow("remark", one, reserve=True)


def _low_psi(question: _Question) -> Decimal:
    return question.asked.rules.for_machine(question.machine)["cylinder-low"]


def _cylinders(question: _Question) -> Iterator[Reason]:
    """All cylinders of a machine together; none that is below the low mark is counted on."""
    low_psi = _low_psi(question)
    left = oxygen_left(question.asked, question.machine, low_psi)
    read = [one for one in left.cylinders if one.gauge is not None]
    low = [one for one in read if one.gauge and one.gauge.psi < low_psi]
    if not read:
        yield NoGauge("unknown")
        return
    for one in low:
        yield CylinderLow("stops" if low == read else "remark", one, reserve=False)
    if low == read:
        return
    if left.usable_l is None:
        yield SizeUnknown("unknown", next(one for one in read if one not in low))
        return
    for one in left.cylinders:
        if one.gauge is None or one.size is None:
            yield NotCounted("remark", one)
    yield _together(question, left, left.usable_l)


def _together(question: _Question, left: OxygenLeft, usable_l: Decimal) -> Reason:
    weight: Weight = "remark" if left.untold_cases else "fine"
    setup = question.setup
    if setup is None:
        return OxygenStands(weight if usable_l else "stops", left, usable_l)
    if usable_l < setup.oxygen_l:
        return OxygenStands("stops", left, usable_l, setup.oxygen_l)
    flow_ml_min = setup.counted[-1][1]
    minutes = minutes_left(usable_l, flow_ml_min)
    return OxygenStands(weight, left, usable_l, setup.oxygen_l, minutes, flow_ml_min)


def _leak_test(question: _Question) -> Iterator[Reason]:
    """A leak test is owed after anything that opened the machine."""
    tested_s = question.asked.known.checks.leak_tested_s(question.machine)
    for one in opened_since(question.asked, question.machine, tested_s):
        at = question.asked.moment.local(one.at_s)
        yield LeakTestOwed("unknown", one.vaporizer, at, one.away)


_WEIGHTS_STRICT: dict[Standing, Weight] = {
    Standing.OVERDUE: "stops",
    Standing.DUE: "stops",
    Standing.NO_RECORD: "unknown",
    Standing.DUE_SOON: "remark",
    Standing.OK: "fine",
}
_WEIGHTS_BY_DAY = _WEIGHTS_STRICT | {Standing.DUE: "remark"}
_WEIGHTS_LIST: dict[Standing, Weight] = {
    standing: "fine" if standing is Standing.OK else "remark" for standing in Standing
}


def _service(question: _Question) -> Iterator[Reason]:
    for item in service_items(question.asked, question.machine):
        yield Stands(_WEIGHTS_BY_DAY[item.standing], item)


def _scavenging(question: _Question) -> Iterator[Reason]:
    asked, view = question.asked, question.asked.machines[question.machine]
    for item in charcoal_items(asked, view):
        yield Stands(_WEIGHTS_STRICT[item.standing], item)
    for item in list_items(asked, view):
        yield Stands(_WEIGHTS_LIST[item.standing], item)


_PARTS: tuple[Callable[[_Question], Iterator[Reason]], ...] = (
    _faults,
    _in_use,
    _pop_off,
    _check,
    _begun,
    _leak_test,
    _absorbent,
    _oxygen,
    _agent,
    _service,
    _scavenging,
)
"""In the order of what harms a patient first; reasons of one weight keep it."""
