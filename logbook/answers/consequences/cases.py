"""What follows from a case: flags, clocks that have run out, what the canister is marked with."""

from collections.abc import Iterator

from logbook.answers.absorbent import absorbent_items, load_since_change
from logbook.answers.case_flags import case_flags
from logbook.answers.charcoal import charcoal_items
from logbook.answers.consequence import (
    Care,
    Caution,
    Consequence,
    Flagged,
    HoursLeft,
    NowDue,
    Ran,
    RanLong,
)
from logbook.answers.consequences.after import After
from logbook.answers.finding import CasePastAbsorbent, CaseRanLong
from logbook.answers.item import Clock
from logbook.answers.long_cases import ran_long
from logbook.answers.service import service_items
from logbook.answers.standing import Standing
from logbook.entries.base import Body
from logbook.entries.case import Case, CaseBegin, CaseEnd
from logbook.projections.project import counting
from logbook.times import epoch_s


def case(after: After[Case | CaseBegin]) -> Iterator[Consequence]:
    """What stands against a case that was logged, and the clocks that it ran out."""
    body, at_s = after.body, after.entry.at_s
    to_s = epoch_s(body.ended_at) if isinstance(body, Case) else at_s
    found = case_flags(after.register, after.moment, at_s, to_s + 1, body.machine)
    if isinstance(body, Case):
        yield from _ran_long(after, after.entry.seq, body.machine, at_s, to_s - at_s)
    flags = found.get(after.entry.seq, [])
    for flag in flags:
        if not isinstance(flag, CaseRanLong):  # It is told with what is usual there.
            yield Flagged(flag)
    told = any(isinstance(flag, CasePastAbsorbent) for flag in flags)
    for due in _now_due(after, body.machine):
        if not (told and due.item.item == "absorbent"):
            yield due


def _now_due(after: After[Body], machine: str) -> Iterator[NowDue]:
    """The clocks of a machine, and of what stands on it, that have run out by now."""
    asked = after.ask(machine)
    view = asked.machines.get(machine)
    if view is None:
        return
    clocks = absorbent_items(asked, view, estimate=False) + charcoal_items(asked, view)
    for item in clocks + service_items(asked, machine):
        if item.standing in (Standing.DUE, Standing.OVERDUE):
            yield NowDue(item)


def case_begin(after: After[CaseBegin]) -> Iterator[Consequence]:
    """The pop-off valve comes first if it is shut, and last if nobody saw it."""
    if after.body.pop_off_open is False:
        yield Caution(Care.POP_OFF_SHUT)
    yield from case(after)
    if after.body.pop_off_open is None:
        yield Caution(Care.POP_OFF_UNSEEN)


def case_end(after: After[CaseEnd]) -> Iterator[Consequence]:
    """How long it ran, what is left of the absorbent, the clocks that have run out."""
    begun = counting(after.connection, after.body.case_entry)
    if begun is not None and isinstance(begun.body, CaseBegin):
        machine, ran_s = begun.body.machine, after.entry.at_s - begun.at_s
        yield Ran(machine, ran_s)
        yield from _ran_long(after, begun.seq, machine, begun.at_s, ran_s)
        yield from _hours_left(after, machine)
        yield from _now_due(after, machine)


def _ran_long(
    after: After[Body], seq: int, machine: str, began_s: int, ran_s: int
) -> Iterator[Consequence]:
    long = ran_long(after.register, after.moment, machine, began_s, ran_s)
    if long is not None:
        yield RanLong(seq, machine, ran_s, long.usual_s)


def _hours_left(after: After[Body], machine: str) -> Iterator[Consequence]:
    """The one number that somebody writes on the canister after a case."""
    asked = after.ask(machine)
    view = asked.machines.get(machine)
    for item in absorbent_items(asked, view, estimate=False) if view else []:
        if item.clock is Clock.HOURS and item.limit is not None:
            left_s = int(item.limit * 3600) - load_since_change(asked, machine).ran_s
            if left_s > 0:
                yield HoursLeft(machine, left_s, item.limit)
