"""What follows from an entry, as sentences: the same behind every door.

Where a person may do something about it the sentence is left open, so that the door can say how.
"""

from functools import singledispatch
from typing import TYPE_CHECKING
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
    HeavierThanCanister,
    HoursLeft,
    IsEvidence,
    ItemFailed,
    LabelDiffers,
    LeakTestFirst,
    Left,
    LighterThanFresh,
    NotChecked,
    NotCorrected,
    NotToBeUsed,
    NowDue,
    NowSays,
    OldCharge,
    OthersUnread,
    OutOfService,
    OutputDrifts,
    PipelineOff,
    Ran,
    RanLong,
    Stands,
    StaysInService,
    UseSeen,
    WorstOutput,
)
from logbook.arithmetic.oxygen import measured
from logbook.sheets.due_text import item_sentence, item_text
from logbook.sheets.equipment import (
    DRIFT_REMARK,
    compared_text,
    drift_text,
    left_text,
    output_text,
)
from logbook.sheets.faults import fault_text
from logbook.sheets.flags import flag_line, warning_line
from logbook.sheets.sentences import sentence
from logbook.times import duration_text, hours_text
from logbook.units import format_decimal

if TYPE_CHECKING:
    from logbook.entries.check import ItemAnswer

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
def _(one: Flagged, zone: ZoneInfo) -> str:
    return warning_line(one.flag, zone) if one.first else f"{flag_line(one.flag, zone)}."


@consequence_text.register
def _(one: NowDue, _: ZoneInfo) -> str:
    return f"Now {one.item.standing}: {item_sentence(one.item)}."


@consequence_text.register
def _(one: Stands, _: ZoneInfo) -> str:
    return item_text(one.item)


@consequence_text.register
def _(one: RanLong, _: ZoneInfo) -> str:
    usual = f", usual there is {duration_text(one.usual_s)}" if one.usual_s else ""
    ran = duration_text(one.ran_s)
    return (
        f"Case {one.case} on {one.machine} ran {ran}{usual}: if its end was forgotten, correct it"
    )


@consequence_text.register
def _(one: HoursLeft, _: ZoneInfo) -> str:
    left, limit = duration_text(one.left_s), format_decimal(one.limit_h)
    return f"Absorbent of {one.machine}: {left} of {limit} h of use left."


@consequence_text.register
def _(one: OldCharge, _: ZoneInfo) -> str:
    days = "1 day" if one.days == 1 else f"{one.days} days"
    return f"The old charge had {hours_text(one.used_s)} h of use in {days}."


@consequence_text.register
def _(one: Ran, _: ZoneInfo) -> str:
    return f"{one.machine} ran {duration_text(one.ran_s)}."


@consequence_text.register
def _(one: Expired, _: ZoneInfo) -> str:
    if one.agent:
        return (
            f"This agent expired on {one.expired_on}, before it was filled in: drain it as the "
            "maker's instructions say."
        )
    return f"This absorbent expired on {one.expired_on}, before it was filled in: change it."


@consequence_text.register
def _(one: HeavierThanCanister, _: ZoneInfo) -> str:
    mass, usual = (format_decimal(value) for value in (one.mass_g, one.usual_g))
    return (
        f"{mass} g is more than the {usual} g that the canister is said to hold: correct the one "
        f"or the other; until then {usual} g count."
    )


@consequence_text.register
def _(one: LighterThanFresh, _: ZoneInfo) -> str:
    fresh = format_decimal(one.fresh_g)
    return f"That is less than the {fresh} g of it when fresh: another canister, or another scale?"


@consequence_text.register
def _(one: Left, _: ZoneInfo) -> str:
    return f"{one.vaporizer}: {left_text(one.left)}."


@consequence_text.register
def _(one: UseSeen, _: ZoneInfo) -> str:
    return f"Used since the last reading: {compared_text(one.compared, one.measure)}."


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
def _(one: WorstOutput, _: ZoneInfo) -> str:
    return f"Worst of it: {output_text(one.output)}."


@consequence_text.register
def _(_one: NotCorrected, _: ZoneInfo) -> str:
    return "Not corrected for altitude: neither height nor pressure of the air is known"


@consequence_text.register
def _(one: OutputDrifts, _: ZoneInfo) -> str:
    return f"{drift_text(one.drift)}."


@consequence_text.register
def _(one: OutOfService, _: ZoneInfo) -> str:
    until = ", not to be used until the maker's procedure clears it" if one.until_cleared else ""
    return f"OUT OF SERVICE: {one.unit}{until}."


@consequence_text.register
def _(one: ComesBack, _: ZoneInfo) -> str:
    return f"To bring it back record {one.back}"


@consequence_text.register
def _(one: IsEvidence, _: ZoneInfo) -> str:
    return f"Entry {one.entry} can serve as evidence: put {one.unit} back in service"


@consequence_text.register
def _(one: StaysInService, _: ZoneInfo) -> str:
    return f"{one.unit} stays in service"


@consequence_text.register
def _(one: NotToBeUsed, zone: ZoneInfo) -> str:
    return f"NOT TO BE USED: {fault_text(one.fault, zone)}."


@consequence_text.register
def _(one: LeakTestFirst, _: ZoneInfo) -> str:
    how = f"without {one.vaporizer}" if one.away else f"with {one.vaporizer} on and off"
    return f"Leak-test {one.machine} {how} before the next case."


@consequence_text.register
def _(one: ItemFailed, _: ZoneInfo) -> str:
    return f"{one.answer.item}: {_finding(one.answer)}"


@consequence_text.register
def _(one: LabelDiffers, _: ZoneInfo) -> str:
    label, counted = format_decimal(one.label_h), format_decimal(one.counted_h)
    apart = format_decimal(abs(one.label_h - one.counted_h))
    missing = "on the label" if one.label_h < one.counted_h else "in this logbook"
    return (
        f"The label says {label} h, this logbook counts {counted} h: {apart} h apart. "
        f"A case may be missing {missing}."
    )


@consequence_text.register
def _(one: OthersUnread, _: ZoneInfo) -> str:
    numbers = " and ".join(map(str, one.numbers))
    which = f"Cylinder {numbers}" if len(one.numbers) == 1 else f"Cylinders {numbers}"
    was = "was" if len(one.numbers) == 1 else "were"
    return f"{which} of {one.machine} {was} not read that day"


@consequence_text.register
def _(one: NotChecked, _: ZoneInfo) -> str:
    return f"{one.machine} is not checked: items were not done."


@consequence_text.register
def _(one: NowSays, zone: ZoneInfo) -> str:
    return f"Entry {one.entry.seq} now says: {sentence(one.entry, zone)}."


def _finding(answer: "ItemAnswer") -> str:
    rule, read, end = answer.judgement, answer.pressure_cmh2o, answer.end_pressure_cmh2o
    if answer.held_s is not None:
        seen = f"held {answer.held_s} s"
    elif answer.value is not None:
        seen = measured(answer.value, answer.unit)
    else:
        seen = answer.choice or answer.reason or "failed"
    if read is not None and end is not None:
        seen = f"{format_decimal(read)} to {format_decimal(end)} cmH2O in {answer.held_s} s"
    elif read is not None:
        seen += f" at {format_decimal(read)} cmH2O"
    if answer.leak_ml_min is not None:
        seen += f", about {format_decimal(answer.leak_ml_min)} mL/min"
    bounds = []
    if rule and rule.low is not None:
        bounds.append(f"at least {format_decimal(rule.low)}")
    if rule and rule.high is not None:
        bounds.append(f"at most {format_decimal(rule.high)}")
    limit = f", limit {' and '.join(bounds)}" if bounds else ""
    at = f" at {format_decimal(rule.pressure_cmh2o)} cmH2O" if rule and rule.pressure_cmh2o else ""
    untold = ", pressure not told" if at and read is None else ""
    return f"{seen}{limit}{at}{untold}: FAIL"
