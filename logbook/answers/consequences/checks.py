"""What follows from a check."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from logbook.answers.consequence import (
    Care,
    Caution,
    Consequence,
    ItemFailed,
    LabelDiffers,
    NotChecked,
    OthersUnread,
)
from logbook.answers.consequences.after import After, still_out
from logbook.checklists import POP_OFF_OPEN
from logbook.times import epoch_s

if TYPE_CHECKING:
    from logbook.entries.check import Check


def check(after: "After[Check]") -> Iterator[Consequence]:
    """What failed, what keeps the machine from use, what is to be done before a patient."""
    body = after.body
    failed = [one for one in body.answers if one.state == "failed"]
    for answer in failed:
        yield ItemFailed(answer)
    yield from still_out(after, body.machine)
    yield from _label(after)
    yield from _other_cylinders(after)
    if any(answer.absorbent_due for answer in body.answers):
        yield Caution(Care.CHANGE_ABSORBENT)
    last = body.answers[-1]
    if last.item == POP_OFF_OPEN and last.state != "passed":
        yield Caution(Care.POP_OFF_UNCONFIRMED)
    if body.verdict == "incomplete":
        yield NotChecked(body.machine)


def _other_cylinders(after: "After[Check]") -> Iterator[Consequence]:
    """Each cylinder is read that day: in the check, or on its own where its item was left out."""
    tag, at_s = after.body.machine, after.entry.at_s
    view = after.register.machines(at_s).get(tag)
    several = view is not None and len(view.cylinders or ()) > 1
    if not several or all(one.reading != "cylinder" for one in after.body.done_now):
        return
    began_s = after.moment.day_began_s(after.moment.day_of(at_s))
    unread = [
        one.number
        for one in after.ask(tag).known.cylinders(tag)
        if one.gauge is None or epoch_s(one.gauge.at) < began_s
    ]
    if unread:
        yield OthersUnread(tag, tuple(unread))


def _label(after: "After[Check]") -> Iterator[Consequence]:
    """Hours that a label tells otherwise than the ledger: a case may be missing in one of them."""
    for answer in after.body.done_now:
        if answer.counted is None or answer.value is None:
            continue
        rules = after.register.rules_at(after.entry.at_s).for_machine(after.body.machine)
        if abs(answer.value - answer.counted) > rules["label-difference"]:
            yield LabelDiffers(answer.value, answer.counted)
