"""What stood against a machine when a case was begun, in words: what is wrong, then the record."""

from functools import singledispatch
from zoneinfo import ZoneInfo

from logbook.answers.finding import (
    CaseAbsorbentUnknown,
    CaseFinding,
    CaseOutOfService,
    CasePastAbsorbent,
    CaseRanLong,
    CaseVerificationOverdue,
    CaseWithoutCheck,
    CaseWithoutLeakTest,
    CheckedAfter,
)
from logbook.sheets.recorded_text import opened_by, roughly
from logbook.times import duration_text, hours_text, local_text, utc_from_epoch_s
from logbook.units import format_decimal

Words = tuple[str, str]
"""What is wrong, and the record that shows it."""


def flag_line(one: CaseFinding, zone: ZoneInfo) -> str:
    """A flag as it stands beneath its case."""
    wrong, record = flag_words(one, zone)
    return f"{wrong}: {record}"


def warning_line(one: CaseFinding, zone: ZoneInfo) -> str:
    """A flag as it is said before what was saved: what is wrong in capitals."""
    wrong, record = flag_words(one, zone)
    return f"{wrong.upper()}: {record}."


@singledispatch
def flag_words(one: CaseFinding, zone: ZoneInfo) -> Words:
    """What a flag says."""
    raise NotImplementedError(f"nobody says {type(one).__name__} in {zone}")


@flag_words.register
def _(one: CaseOutOfService, zone: ZoneInfo) -> Words:
    fault = one.fault
    detail = f", {fault.detail}" if fault.detail else ""
    since = local_text(fault.at, zone)
    return "out of service", f"{one.unit} since {since}, {fault.what}{detail} (entry {fault.entry})"


@flag_words.register
def _(one: CaseWithoutCheck, _: ZoneInfo) -> Words:
    if one.verdict is None:
        return "no daily check", f"none of {one.machine} that day before the case"
    was = "failed" if one.verdict == "failed" else "not finished"
    return f"daily check {was}", f"{one.machine}, before the case (entry {one.check})"


@flag_words.register
def _(one: CheckedAfter, zone: ZoneInfo) -> Words:
    if one.same_day:
        at = local_text(utc_from_epoch_s(one.recorded_s), zone)[11:]
        return "daily check written down after the case", f"at {at} that day (entry {one.check})"
    late = roughly(one.recorded_s - one.at_s)
    return "daily check recorded only after the case", f"{late} late (entry {one.check})"


@flag_words.register
def _(one: CasePastAbsorbent, _: ZoneInfo) -> Words:
    told = []
    if one.used_s is not None:
        told.append(f"{hours_text(one.used_s)} of {format_decimal(one.limit_h)} h in use")
    if one.days is not None:
        told.append(f"{one.days} of {format_decimal(one.limit_d)} days since the change")
    crossed = " at the end of this case, which took it there" if one.crossed else ""
    amounts = " and ".join(told)
    return "absorbent past its limit", f"{one.machine}, {amounts}{crossed}"


@flag_words.register
def _(one: CaseAbsorbentUnknown, _: ZoneInfo) -> Words:
    return "absorbent of unknown age", f"no change on {one.machine} is recorded before the case"


@flag_words.register
def _(one: CaseVerificationOverdue, _: ZoneInfo) -> Words:
    told = []
    if one.due_on is not None:
        told.append(f"due on {one.due_on}")
    if one.used_s is not None and one.limit_h is not None:
        told.append(f"{hours_text(one.used_s)} of {format_decimal(one.limit_h)} h in use")
    return "output verification overdue", f"{one.unit}, {' and '.join(told)}"


@flag_words.register
def _(one: CaseRanLong, _: ZoneInfo) -> Words:
    ran, limit = duration_text(one.ran_s), format_decimal(one.limit_h)
    return "ran long", f"{one.machine}, {ran}, more than {limit} h: its end may be forgotten"


@flag_words.register
def _(one: CaseWithoutLeakTest, zone: ZoneInfo) -> Words:
    opened = opened_by(one.vaporizer, away=one.away) or "the absorbent change"
    since = local_text(utc_from_epoch_s(one.opened_s), zone)
    return "no leak test", f"none passed on {one.machine} since {opened} at {since}"
