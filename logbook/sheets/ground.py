"""On what a line of the list of what is due rests, in words."""

from functools import singledispatch

from logbook.answers.ground import (
    Changed,
    Charged,
    CheckedOn,
    DoneOn,
    Failed,
    Ground,
    NotRecorded,
    RuleEnded,
    Seen,
    Sent,
    Unused,
    VerifiedOn,
)
from logbook.sheets.recorded_text import marks_text
from logbook.times import hours_text, local_text
from logbook.units import format_decimal
from logbook.vocabulary import absorbent_words


@singledispatch
def ground_text(ground: Ground) -> str:
    """The words that stand behind an item."""
    raise NotImplementedError(f"nobody says {type(ground).__name__}")


@ground_text.register
def _(ground: NotRecorded) -> str:
    return f"no {ground.missing} is recorded"


@ground_text.register
def _(ground: Changed) -> str:
    expires = f", expires {ground.expires}" if ground.expires else ""
    return f"last change {local_text(ground.at)}{expires}{marks_text(ground.recorded)}"


@ground_text.register
def _(ground: DoneOn) -> str:
    return f"last done {ground.day}{marks_text(ground.recorded)}"


@ground_text.register
def _(ground: VerifiedOn) -> str:
    last = f"last verified {ground.day}{marks_text(ground.recorded)}"
    return f"{last}; not used beyond {ground.months} months of it"


@ground_text.register
def _(ground: Unused) -> str:
    last = f"last verified {ground.day}{marks_text(ground.recorded)}"
    return f"no case in {ground.days} days; {last}"


@ground_text.register
def _(ground: CheckedOn) -> str:
    return f"last check {ground.day}: {ground.verdict}{marks_text(ground.recorded)}"


@ground_text.register
def _(ground: Charged) -> str:
    charge = f"{format_decimal(ground.mass_g)} g of {absorbent_words(ground.kind)}"
    came = ""
    if ground.reached_l is not None:
        low, high = (format_decimal(round(one, 1)) for one in ground.reached_l)
        came = f"; by the flows {low} to {high} L of it reached the granules"
    untold_s = ground.unweighed_s
    without = f", {hours_text(untold_s)} h without a weight not counted" if untold_s else ""
    return f"{charge}{came}{without}"


@ground_text.register
def _(ground: Sent) -> str:
    since = "weighing" if ground.weighed else "change"
    untold = ground.untold_cases
    without = f", {untold} without flow or dial not counted" if untold else ""
    return f"all agent sent since the last {since} {local_text(ground.since)}{without}"


@ground_text.register
def _(ground: Seen) -> str:
    entry = f"(entry {ground.entry}{marks_text(ground.recorded)})"
    return f"granules {ground.granules} at the check of {ground.day} {entry}"


@ground_text.register
def _(ground: Failed) -> str:
    entry = f"(entry {ground.entry}{marks_text(ground.recorded)})"
    return f"the service of {ground.day} failed {entry}"


@ground_text.register
def _(ground: RuleEnded) -> str:
    return str(ground.error)
