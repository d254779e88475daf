"""What follows from an entry, as sentences: the same behind every door.

Where a person may do something about it the sentence is left open, so that the door can say how.
"""

from functools import singledispatch
from zoneinfo import ZoneInfo

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
from logbook.answers.drift import DRIFT_REMARK
from logbook.entries.check import ItemAnswer
from logbook.sheets.due_text import item_text
from logbook.sheets.equipment import compared_text, left_text
from logbook.sheets.sentences import sentence
from logbook.times import duration_text
from logbook.units import format_decimal

CARE = {
    Care.POP_OFF_SHUT: "THE POP-OFF VALVE IS SHUT: open it now.",
    Care.POP_OFF_UNSEEN: (
        "Confirm that the pop-off valve is open, and watch that valves and bag move."
    ),
    Care.POP_OFF_UNCONFIRMED: (
        "The pop-off valve is not confirmed open: open it before anything else."
    ),
    Care.CHANGE_ABSORBENT: "Change the absorbent now: colour can come back on standing.",
    Care.USE_DRIFTS: f"{DRIFT_REMARK}.",
}


@singledispatch
def consequence_text(one: Consequence, zone: ZoneInfo) -> str:
    """One sentence on what follows; times are told in the clinic's zone."""
    raise NotImplementedError(f"nobody says {type(one).__name__} in {zone}")


@consequence_text.register
def _(one: Caution, _: ZoneInfo) -> str:
    return CARE[one.care]


@consequence_text.register
def _(one: Flagged, _: ZoneInfo) -> str:
    return f"Flagged: {one.flag}."


@consequence_text.register
def _(one: NowDue, _: ZoneInfo) -> str:
    return f"Now {one.item.standing}: {one.item.sentence}."


@consequence_text.register
def _(one: Stands, _: ZoneInfo) -> str:
    return item_text(one.item)


@consequence_text.register
def _(one: Ran, _: ZoneInfo) -> str:
    return f"{one.machine} ran {duration_text(one.ran_s)}."


@consequence_text.register
def _(one: Expired, _: ZoneInfo) -> str:
    return f"This absorbent expired on {one.expired_on}, before it was filled in."


@consequence_text.register
def _(one: Left, _: ZoneInfo) -> str:
    return f"{one.vaporizer}: {left_text(one.left)}."


@consequence_text.register
def _(one: UseSeen, _: ZoneInfo) -> str:
    return f"Since the last reading: {compared_text(one.compared, one.measure)}."


@consequence_text.register
def _(one: AboveCapacity, _: ZoneInfo) -> str:
    return f"That is more than {one.vaporizer} holds. If it is overfilled, it must not be used"


@consequence_text.register
def _(one: CylinderLow, _: ZoneInfo) -> str:
    return f"The cylinder is below {one.limit_psi} psi: replace it."


@consequence_text.register
def _(one: PipelineOff, _: ZoneInfo) -> str:
    low, high = one.allowed_psi.low, one.allowed_psi.high
    return f"The pipeline is allowed {low:f} to {high:f} psi: find out why."


@consequence_text.register
def _(one: OutOfService, _: ZoneInfo) -> str:
    until = ": not to be used until the maker's procedure clears it" if one.until_cleared else ""
    return f"{one.unit} is out of service{until}."


@consequence_text.register
def _(_one: ComesBack, _: ZoneInfo) -> str:
    return "Then record the check or service"


@consequence_text.register
def _(one: StaysInService, _: ZoneInfo) -> str:
    return f"{one.unit} stays in service"


@consequence_text.register
def _(one: NotToBeUsed, zone: ZoneInfo) -> str:
    return f"NOT TO BE USED: {one.fault.sentence(zone)}."


@consequence_text.register
def _(one: LeakTestFirst, _: ZoneInfo) -> str:
    return f"Leak-test {one.machine} with {one.vaporizer} on and off before the next case."


@consequence_text.register
def _(one: ItemFailed, _: ZoneInfo) -> str:
    return f"{one.answer.item}: {_finding(one.answer)}"


@consequence_text.register
def _(one: NotChecked, _: ZoneInfo) -> str:
    return f"{one.machine} is not checked: items were not done."


@consequence_text.register
def _(one: NowSays, zone: ZoneInfo) -> str:
    return f"Entry {one.entry.seq} now says: {sentence(one.entry, zone)}."


def _finding(answer: ItemAnswer) -> str:
    rule = answer.judgement
    if answer.held_s is not None:
        seen = f"held {answer.held_s} s"
    elif answer.value is not None:
        seen = f"{format_decimal(answer.value)} {answer.unit}"
    else:
        seen = answer.choice or answer.reason or "failed"
    at = f" at {format_decimal(rule.pressure_cmh2o)} cmH2O" if rule and rule.pressure_cmh2o else ""
    bounds = []
    if rule and rule.low is not None:
        bounds.append(f"at least {format_decimal(rule.low)}")
    if rule and rule.high is not None:
        bounds.append(f"at most {format_decimal(rule.high)}")
    limit = f", limit {' and '.join(bounds)}" if bounds else ""
    return f"{seen}{at}{limit}: FAIL"
