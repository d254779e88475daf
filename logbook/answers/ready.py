"""May this machine be used for the next patient? One verdict, with every reason, worst first.

The answer says what is recorded and what the rule is. It never says that a machine is safe.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from typing import Literal

from sqlalchemy import Connection

from logbook.answers.absorbent import absorbent_items, load_since_change
from logbook.answers.agent import agent_left
from logbook.answers.charcoal import charcoal_items
from logbook.answers.drift import DRIFT_REMARK, agent_compared, drifts
from logbook.answers.gauges import opened_s
from logbook.answers.item import Asked, Clock, DueItem, ask_about
from logbook.answers.lists import list_items
from logbook.answers.moment import Moment
from logbook.answers.planning import in_use
from logbook.answers.service import service_items
from logbook.answers.standing import Standing
from logbook.answers.unfinished import LIMIT
from logbook.arithmetic.oxygen import contents_l, minutes_left, pipeline_allowed
from logbook.arithmetic.setup import Setup
from logbook.projections.lookup import VaporizerView
from logbook.times import duration_text, local_text, utc_from_epoch_s
from logbook.units import format_decimal
from logbook.vocabulary import size_words

Weight = Literal["stops", "unknown", "remark", "fine"]
WORST_FIRST: tuple[Weight, ...] = ("stops", "unknown", "remark", "fine")


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that speaks for or against, in a sentence; ``about`` names it in a word or two."""

    weight: Weight
    about: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Ready:
    """The verdict in the words ``ready``, ``ready, with remarks``, ``not ready`` or
    ``cannot tell: no record of …``."""

    machine: str
    verdict: str
    reasons: list[Reason]

    @property
    def may_be_used(self) -> bool:
        """Whether nothing recorded speaks against it and nothing needed is without a record."""
        return self.verdict.startswith("ready")


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

    def local(self, at_s: int) -> str:
        return local_text(utc_from_epoch_s(at_s), self.asked.moment.zone)


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
    reasons = [reason for part in _PARTS for reason in part(question)]
    reasons.sort(key=lambda reason: WORST_FIRST.index(reason.weight))
    return Ready(question.machine, _verdict(reasons), reasons)


def _verdict(reasons: list[Reason]) -> str:
    weights = {reason.weight for reason in reasons}
    if "stops" in weights:
        return "not ready"
    if "unknown" in weights:
        missing = dict.fromkeys(one.about for one in reasons if one.weight == "unknown")
        return f"cannot tell: no record of {', '.join(missing)}"
    return "ready, with remarks" if "remark" in weights else "ready"


def _faults(question: _Question) -> Iterator[Reason]:
    asked = question.asked
    for unit in [question.machine, *(one.vaporizer for one in question.vaporizers)]:
        for fault in asked.known.faults.get(unit, []):
            yield Reason("stops", "fault", fault.sentence(asked.moment.zone))


def _in_use(question: _Question) -> Iterator[Reason]:
    case = question.asked.known.running.get(question.machine)
    if case is not None:
        since = question.local(case.began_s)
        yield Reason("stops", "use", f"case {case.entry} runs on it since {since}")


def _check(question: _Question) -> Iterator[Reason]:
    asked = question.asked
    done = asked.known.check_today(question.machine)
    if done is None:
        yield Reason("unknown", "today's check", "today's daily check is not recorded")
        return
    when = f"{done.at.astimezone(asked.moment.zone):%H:%M}"
    told = f"daily check {done.verdict} at {when} by {done.by} (entry {done.entry})"
    yield Reason("fine" if done.verdict == "passed" else "stops", "today's check", told)


def _begun(question: _Question) -> Iterator[Reason]:
    """A check that somebody walks, or left: nothing of it counts before it is finished."""
    asked = question.asked
    limit_h = asked.rules.for_machine(question.machine)[LIMIT]
    now = utc_from_epoch_s(asked.moment.at_s)
    for begun in asked.known.begun:
        if begun.machine == question.machine and begun.begun_at <= now:
            told = begun.sentence(asked.moment.zone, now, limit_h)
            yield Reason("remark", "unfinished check", told)


def _pop_off(question: _Question) -> Iterator[Reason]:
    seen = question.asked.known.pop_off(question.machine)
    about = "pop-off valve"
    if seen is None:
        yield Reason("unknown", about, "the pop-off valve was never recorded open")
        return
    when = local_text(seen.at, question.asked.moment.zone)
    if seen.is_open:
        told = f"pop-off valve recorded open {when} (entry {seen.entry}); look again now"
        yield Reason("fine", about, told)
    else:
        told = f"pop-off valve not open when last recorded, {when} (entry {seen.entry})"
        yield Reason("stops", about, told)


def _absorbent(question: _Question) -> Iterator[Reason]:
    asked, view = question.asked, question.asked.machines[question.machine]
    for item in absorbent_items(asked, view):
        weight = _WEIGHTS_STRICT[item.standing]
        if not question.rebreathing and weight != "fine":
            told = f"{item.sentence}; this circuit does not use it"
            yield Reason("remark", "absorbent", told)
            continue
        yield Reason(weight, "absorbent change", item.sentence)
        if weight in ("fine", "remark") and item.clock is Clock.HOURS:
            yield from _absorbent_covers(question, item)


def _absorbent_covers(question: _Question, item: DueItem) -> Iterator[Reason]:
    if question.planned_s is None or not question.rebreathing or item.limit is None:
        return
    used_s = load_since_change(question.asked, question.machine).ran_s
    left_s = int(item.limit * 3600) - used_s
    if question.planned_s > left_s:
        left, planned = duration_text(left_s), duration_text(question.planned_s)
        told = f"the absorbent has {left} left, the case needs {planned}: change it first"
        yield Reason("stops", "absorbent", told)


def _agent(question: _Question) -> Iterator[Reason]:
    agents = [one.agent for one in question.vaporizers]
    planned = question.planned_s is not None
    if not agents:
        told = "no vaporizer stands on it: not ready for an inhaled case"
        yield Reason("stops" if planned else "remark", "vaporizer", told)
    elif question.agent is not None and question.agent not in agents:
        yield Reason("stops", "vaporizer", f"no {question.agent} vaporizer stands on it")
    for view in question.vaporizers:
        yield from _agent_in(question, view)
        if drifts(agent_compared(question.asked, view)):
            yield Reason("remark", "vaporizer", f"{view.vaporizer}: {DRIFT_REMARK}")


def _agent_in(question: _Question, view: VaporizerView) -> Iterator[Reason]:
    left = agent_left(question.asked, view)
    if left.left_ml is None:
        told = f"no level of {view.vaporizer} is recorded; read the sight glass"
        yield Reason("unknown", f"{view.vaporizer}'s level", told)
        return
    needed_ml = _needed_ml(question, view)
    usable_ml = left.left_ml - (view.low_mark_ml or 0)
    about = f"about {format_decimal(left.left_ml, 0, ROUND_FLOOR)} mL in {view.vaporizer}"
    if view.capacity_ml is not None and left.left_ml > view.capacity_ml:
        told = f"{about}, more than it holds: read the glass; overfilled, it must not be used"
        yield Reason("stops", "agent", told)
    elif left.low or usable_ml < needed_ml:
        need = f", the case needs {format_decimal(needed_ml)} mL above the low mark"
        yield Reason("stops", "agent", f"{about}{need if needed_ml else ''}: fill it")
    elif left.untold_cases:
        cases = "1 case" if left.untold_cases == 1 else f"{left.untold_cases} cases"
        told = f"{about}, less {cases} without flow or dial: read the glass"
        yield Reason("remark", "agent", told)
    else:
        yield Reason("fine", "agent", about)


def _needed_ml(question: _Question, view: VaporizerView) -> Decimal:
    """What the case takes of a vaporizer's own agent; nothing where another one is named."""
    if question.setup is None or question.agent not in (None, view.agent):
        return Decimal(0)
    return question.setup.needed_ml(view.agent, question.dial_percent)


def _oxygen(question: _Question) -> Iterator[Reason]:
    asked, rules = question.asked, question.asked.rules.for_machine(question.machine)
    pipeline = asked.known.pipeline(question.machine)
    if (
        pipeline is not None
        and asked.moment.day_of(int(pipeline.at.timestamp())) == asked.moment.day
    ):
        allowed = pipeline_allowed(rules)
        told = f"pipeline {format_decimal(pipeline.psi)} psi today"
        if allowed.includes(pipeline.psi):
            yield Reason("fine", "oxygen", told)
            yield from _low_reserve(question)
            return
        yield Reason("stops", "oxygen", f"{told}, allowed {allowed.low:f} to {allowed.high:f} psi")
    known, tag = asked.known, question.machine
    gauge, size = known.cylinder(tag), known.cylinder_size(tag)
    if gauge is None:
        yield Reason("unknown", "oxygen", "no oxygen gauge is recorded")
        return
    read = f"cylinder {format_decimal(gauge.psi)} psi, {local_text(gauge.at, asked.moment.zone)}"
    if gauge.psi < rules["cylinder-low"]:
        yield Reason("stops", "oxygen", f"{read}: replace it")
    elif size is None:
        told = f"{read}, size not recorded: minutes cannot be told"
        yield Reason("unknown", "the cylinder's size", told)
    else:
        yield _cylinder_covers(question, size, gauge.psi, f"{read}, {size_words(size)}")


def _low_reserve(question: _Question) -> Iterator[Reason]:
    """On the pipeline the cylinder is what is left when the pipeline fails."""
    gauge = question.asked.known.cylinder(question.machine)
    low_psi = question.asked.rules.for_machine(question.machine)["cylinder-low"]
    if gauge is not None and gauge.psi < low_psi:
        told = f"reserve cylinder {format_decimal(gauge.psi)} psi: replace it"
        yield Reason("remark", "oxygen", told)


def _leak_test(question: _Question) -> Iterator[Reason]:
    """A leak test is owed after anything that opened the machine (AAGBI 2012, read)."""
    tested = question.asked.known.leak_tested_s(question.machine)
    for what, at_s in opened_s(question.asked, question.machine):
        if tested is not None and at_s > tested:
            told = f"no leak test since {what}, {question.local(at_s)}"
            yield Reason("unknown", f"a leak test since {what}", told)


def _cylinder_covers(question: _Question, size: str, psi: Decimal, read: str) -> Reason:
    reserve_psi = question.asked.rules.for_machine(question.machine)["cylinder-low"]
    usable_l = contents_l(size, psi, reserve_psi)
    if question.setup is None:
        return Reason(
            "fine", "oxygen", f"{read}: {format_decimal(usable_l, 0, ROUND_FLOOR)} L to use"
        )
    flow_ml_min = question.setup.counted[-1][1]
    minutes = minutes_left(usable_l, flow_ml_min)
    flow = format_decimal(flow_ml_min / 1000)
    needed = f"the case needs {format_decimal(question.setup.oxygen_l)} L"
    if usable_l < question.setup.oxygen_l:
        usable = format_decimal(usable_l, 0, ROUND_FLOOR)
        return Reason("stops", "oxygen", f"{read}: {usable} L to use, {needed}")
    return Reason("fine", "oxygen", f"{read}: about {minutes} min to use at {flow} L/min")


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
        yield Reason(_WEIGHTS_BY_DAY[item.standing], item.what, item.sentence)


def _scavenging(question: _Question) -> Iterator[Reason]:
    asked, view = question.asked, question.asked.machines[question.machine]
    for item in charcoal_items(asked, view):
        yield Reason(_WEIGHTS_STRICT[item.standing], "charcoal change", item.sentence)
    for item in list_items(asked, view):
        yield Reason(_WEIGHTS_LIST[item.standing], item.item, item.sentence)


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
