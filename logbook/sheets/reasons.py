"""What speaks for or against the next use of a machine, in words."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from functools import singledispatch

from logbook.answers import reason
from logbook.answers.ready import Readiness
from logbook.answers.reason import Level, Reason, Weight
from logbook.sheets.cylinders import cylinder_text, oxygen_text, untold_text
from logbook.sheets.due_text import item_sentence
from logbook.sheets.equipment import DRIFT_REMARK, left_by
from logbook.sheets.faults import fault_text, noted_text
from logbook.sheets.recorded_text import late_text, marks_text, opened_by
from logbook.sheets.unfinished import unfinished_text
from logbook.times import duration_text, local_text
from logbook.units import format_decimal

Words = tuple[str, str]
"""What it is about in a word or two, and the sentence."""


@dataclass(frozen=True, slots=True)
class ReasonRow:
    """One thing that speaks for or against, in a sentence; ``about`` names it in a word or two."""

    weight: Weight
    about: str
    sentence: str

    @classmethod
    def of(cls, one: Reason) -> "ReasonRow":
        """The row of a reason."""
        return cls(one.weight, *reason_words(one))


def readiness_text(readiness: Readiness, reasons: Iterable[ReasonRow]) -> str:
    """The verdict; where nobody can tell, with what is not recorded."""
    if readiness is not Readiness.CANNOT_TELL:
        return readiness
    missing = dict.fromkeys(one.about for one in reasons if one.weight == "unknown")
    return f"{readiness}: no record of {', '.join(missing)}"


@singledispatch
def reason_words(one: Reason) -> Words:
    """What a reason says."""
    raise NotImplementedError(f"nobody says {type(one).__name__}")


@reason_words.register
def _(one: reason.OutOfService) -> Words:
    return "fault", fault_text(one.fault, one.since.tzinfo)


@reason_words.register
def _(one: reason.OpenFaultNoted) -> Words:
    return "open fault", noted_text(one.fault, one.since.tzinfo)


@reason_words.register
def _(one: reason.InUse) -> Words:
    return "use", f"case {one.case} runs on it since {local_text(one.since)}"


@reason_words.register
def _(_: reason.NotChecked) -> Words:
    return "today's check", "today's daily check is not recorded"


@reason_words.register
def _(one: reason.Checked) -> Words:
    done = one.done
    entry = f"(entry {done.entry}{late_text(done.late_s)})"
    told = f"daily check {done.verdict} at {one.at:%H:%M} by {done.by} {entry}"
    return "today's check", told


@reason_words.register
def _(one: reason.BeingChecked) -> Words:
    return "unfinished check", unfinished_text(one.begun, one.now, one.limit_h)


@reason_words.register
def _(_: reason.PopOffUnseen) -> Words:
    return "pop-off valve", "the pop-off valve was never recorded open"


@reason_words.register
def _(one: reason.PopOffSeen) -> Words:
    seen, when = one.seen, local_text(one.at)
    entry = f"(entry {seen.entry}{marks_text(seen.recorded)})"
    if seen.is_open:
        told = f"pop-off valve recorded open {when} {entry}; look again now"
    else:
        told = f"pop-off valve not open when last recorded, {when} {entry}"
    return "pop-off valve", told


@reason_words.register
def _(one: reason.Stands) -> Words:
    item, sentence = one.item, item_sentence(one.item)
    if not one.used:
        return item.item, f"{sentence}; this circuit does not use it"
    return f"{item.what} change" if item.item in ("absorbent", "charcoal") else item.what, sentence


@reason_words.register
def _(one: reason.AbsorbentShort) -> Words:
    left, planned = duration_text(one.left_s), duration_text(one.planned_s)
    return "absorbent", f"the absorbent has {left} left, the case needs {planned}: change it first"


@reason_words.register
def _(one: reason.NoVaporizer) -> Words:
    if one.agent is None:
        return "vaporizer", "no vaporizer stands on it: not ready for an inhaled case"
    return "vaporizer", f"no {one.agent} vaporizer stands on it"


@reason_words.register
def _(one: reason.UseDrifts) -> Words:
    return "vaporizer", f"{one.vaporizer}: {DRIFT_REMARK}"


@reason_words.register
def _(one: reason.LevelUnknown) -> Words:
    told = f"no level of {one.vaporizer} is recorded; read the sight glass"
    return f"{one.vaporizer}'s level", told


@reason_words.register
def _(one: reason.AgentStands) -> Words:
    left_ml = one.left.left_ml or Decimal(0)
    about = f"about {_whole(left_ml)} mL in {one.vaporizer} ({left_by(one.left)})"
    if one.level is Level.OVERFULL:
        told = f"{about}, more than it holds: read the glass; overfilled, it must not be used"
    elif one.level is Level.LOW:
        need = f", the case needs {format_decimal(one.needed_ml)} mL above the low mark"
        told = f"{about}{need if one.needed_ml else ''}: fill it"
    elif one.level is Level.UNTOLD:
        untold = one.left.untold_cases
        cases = "1 case" if untold == 1 else f"{untold} cases"
        told = f"{about}, less {cases} without flow or dial: read the glass"
    else:
        told = about
    return "agent", told


@reason_words.register
def _(one: reason.PipelineReads) -> Words:
    read = one.read
    told = f"pipeline {format_decimal(read.psi)} psi today{marks_text(read.recorded)}"
    if one.allowed.includes(read.psi):
        return "oxygen", told
    return "oxygen", f"{told}, allowed {one.allowed.low:f} to {one.allowed.high:f} psi"


@reason_words.register
def _(one: reason.CylinderLow) -> Words:
    reserve = "reserve " if one.reserve else ""
    return "oxygen", f"{reserve}{cylinder_text(one.cylinder)}: replace it"


@reason_words.register
def _(_: reason.NoGauge) -> Words:
    return "oxygen", "no oxygen gauge is recorded"


@reason_words.register
def _(one: reason.NotCounted) -> Words:
    missing = "gauge" if one.cylinder.gauge is None else "size"
    told = f"{cylinder_text(one.cylinder)} does not count, its {missing} is not recorded"
    return "oxygen", told


@reason_words.register
def _(one: reason.SizeUnknown) -> Words:
    told = f"{cylinder_text(one.cylinder)}, size not recorded: minutes cannot be told"
    return "the cylinder's size", told


@reason_words.register
def _(one: reason.OxygenStands) -> Words:
    read, less = oxygen_text(one.left), untold_text(one.left)
    kept = format_decimal(one.left.reserve_psi)
    if one.minutes is not None and one.flow_ml_min is not None:
        flow = format_decimal(one.flow_ml_min / 1000)
        return (
            "oxygen",
            f"{read}: about {one.minutes} min to use above {kept} psi at {flow} L/min{less}",
        )
    needed = f", the case needs {format_decimal(one.needed_l)} L" if one.needed_l else ""
    return "oxygen", f"{read}: {_whole(one.usable_l)} L can be used above {kept} psi{needed}{less}"


@reason_words.register
def _(one: reason.LeakTestOwed) -> Words:
    what = opened_by(one.vaporizer, away=one.away) or "the absorbent change"
    return f"a leak test since {what}", f"no leak test since {what}, {local_text(one.at)}"


def _whole(amount: Decimal) -> str:
    return format_decimal(amount, 0, ROUND_FLOOR)
