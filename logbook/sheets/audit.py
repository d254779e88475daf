"""What an audit found, as text and as JSON: the worst first, and what was looked at."""

from dataclasses import dataclass, fields
from datetime import date
from functools import singledispatch
from itertools import groupby
from typing import ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.audit import Audit, LookedAt, Total
from logbook.answers.finding import (
    Audited,
    CaseAbsorbentUnknown,
    CaseOutOfService,
    CasePastAbsorbent,
    CaseRanLong,
    CaseVerificationOverdue,
    CaseWithoutCheck,
    CaseWithoutLeakTest,
    ChangeLate,
    ChangeWithoutUse,
    CheckDuringCase,
    CheckedAfter,
    CheckMissed,
    CheckNotFinished,
    ClockBack,
    Corrected,
    Finding,
    HoldTooShort,
    RecordedLate,
    Restored,
    ReturnedWithoutEvidence,
)
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.recorded_text import opened_by
from logbook.sheets.sheet import Sheet
from logbook.times import duration_text, hours_text, local_text, utc_from_epoch_s
from logbook.units import format_decimal


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One finding: the entries that show it, who signed them, and what it says in words."""

    finding: Audited
    machine: str | None
    unit: str | None
    day: date
    entries: list[int]
    by: list[str]
    words: str

    @classmethod
    def of(cls, one: Finding, zone: ZoneInfo) -> "FindingRow":
        """The row of a finding; its day and times are the clinic's."""
        day = utc_from_epoch_s(one.at_s).astimezone(zone).date()
        by = [initials for initials in one.by if initials]
        words = finding_words(one, _Clock(zone))
        return cls(one.finding, one.machine, one.unit, day, list(one.entries), by, words)


@dataclass(frozen=True, slots=True)
class AuditSheet(Sheet):
    """What was found in a span of days, and what was looked at."""

    schema: ClassVar[str] = "audit/1"
    from_: date
    to: date
    since: date
    machine: str | None
    looked_at: LookedAt
    findings: list[FindingRow]
    totals: list[Total]
    checkpoint: Checkpoint

    @classmethod
    def of(cls, answer: Audit, zone: ZoneInfo, checkpoint: Checkpoint) -> "AuditSheet":
        """The sheet of an audit."""
        rows = [FindingRow.of(one, zone) for one in answer.findings]
        return cls(
            answer.first, answer.last, answer.since, answer.machine, answer.looked_at, rows,
            answer.totals, checkpoint,
        )  # fmt: skip

    def lines(self) -> Lines:
        """The findings as text, kind by kind, then what was looked at."""
        where = f" on {self.machine}" if self.machine else ""
        rows = [Line(f"From {self.from_} to {self.to}{where}:")]
        for kind, group in groupby(self.findings, key=lambda one: one.finding):
            found = list(group)
            rows.append(Line(f"{kind.upper()}: {len(found)}"))
            rows += [under(_row(one)) for one in found]
        if not self.findings:
            rows.append(Line("Nothing was found that this audit looks for."))
        rows.append(Line(f"Looked at: {looked_at_words(self.looked_at)}."))
        if self.from_ < self.since:
            rows.append(Line(f"This logbook begins on {self.since}; no day before it is judged."))
        return [*rows, Line(self.checkpoint.line())]


def looked_at_words(looked_at: LookedAt) -> str:
    """How much was looked at, in one line."""
    counts = {one.name: getattr(looked_at, one.name) for one in fields(looked_at)}
    return ", ".join(f"{count} {_noun(name, count)}" for name, count in counts.items())


def _noun(name: str, count: int) -> str:
    names = {"changes": "absorbent changes", "returns": "returns to service"}
    one = {"entries": "entry", "absorbent changes": "absorbent change"} | {
        "returns to service": "return to service"
    }
    many = names.get(name, name)
    return many if count != 1 else one.get(many, many.removesuffix("s"))


def _roughly(seconds: int) -> str:
    """A length in whole days, or to the minute within two of them."""
    days = seconds // 86_400
    return f"{days} days" if days > 1 else duration_text(max(seconds - seconds % 60, 60))


def _row(row: FindingRow) -> str:
    by = f" [{', '.join(row.by)}]" if row.by else ""
    return f"{row.day} {row.unit or 'the ledger'}: {row.words}{by}"


@dataclass(frozen=True, slots=True)
class _Clock:
    zone: ZoneInfo

    def at(self, at_s: int) -> str:
        """Day and time."""
        return local_text(utc_from_epoch_s(at_s), self.zone)

    def time(self, at_s: int) -> str:
        """The time alone, with its offset where the zone has it twice."""
        return self.at(at_s)[11:]


@singledispatch
def finding_words(one: Finding, clock: _Clock) -> str:
    """What a finding says, with its entries; the day and the unit stand before it."""
    raise NotImplementedError(f"nobody says {type(one).__name__} in {clock.zone}")


@finding_words.register
def _(one: CaseOutOfService, clock: _Clock) -> str:
    detail = f", {one.fault.detail}" if one.fault.detail else ""
    since = local_text(one.fault.at, clock.zone)
    return (
        f"out of service since {since} ({one.fault.what}{detail}, entry {one.fault.entry}) when "
        f"case {one.entries[0]} was begun on {one.machine} at {clock.time(one.at_s)}"
    )


@finding_words.register
def _(one: CaseWithoutCheck, clock: _Clock) -> str:
    last = f", check {one.check} {one.verdict}" if one.verdict else ""
    return (
        f"case {one.entries[0]}, begun at {clock.time(one.at_s)}: no passed daily check before it "
        f"that day{last}"
    )


@finding_words.register
def _(one: CheckedAfter, clock: _Clock) -> str:
    case, check = one.entries
    after = _roughly(one.recorded_s - one.at_s)
    return (
        f"check {check} says {clock.time(one.claims_s)}, but was recorded at "
        f"{clock.at(one.recorded_s)}, {after} after case {case} was begun at "
        f"{clock.time(one.at_s)}"
    )


@finding_words.register
def _(one: CasePastAbsorbent, _: _Clock) -> str:
    case, change = one.entries
    did = "took the absorbent past its limit" if one.crossed else "ran on absorbent past its limit"
    amounts = _amounts(one.used_s, one.limit_h, one.days, one.limit_d)
    return f"case {case} {did}: {amounts}, charge of entry {change}"


def _amounts(used_s: int | None, limit_h: object, days: int | None, limit_d: object) -> str:
    told = []
    if used_s is not None:
        told.append(f"{hours_text(used_s)} of {limit_h:f} h")
    if days is not None:
        told.append(f"{days} of {limit_d:f} days")
    return " and ".join(told)


@finding_words.register
def _(one: CaseAbsorbentUnknown, clock: _Clock) -> str:
    return (
        f"case {one.case}, begun at {clock.time(one.at_s)}: no absorbent change before it is "
        "recorded"
    )


@finding_words.register
def _(one: CaseVerificationOverdue, clock: _Clock) -> str:
    reasons = []
    if one.due_on is not None:
        reasons.append(f"was due on {one.due_on}")
    if one.used_s is not None and one.limit_h is not None:
        limit = format_decimal(one.limit_h)
        reasons.append(f"had run {hours_text(one.used_s)} of {limit} h since the last")
    return (
        f"output verification {' and '.join(reasons)} when case {one.entries[0]} was begun on "
        f"{one.machine} at {clock.time(one.at_s)}"
    )


@finding_words.register
def _(one: CaseWithoutLeakTest, clock: _Clock) -> str:
    opened = opened_by(one.vaporizer, away=one.away) or f"the absorbent change {one.entries[1]}"
    return (
        f"case {one.entries[0]}, begun at {clock.time(one.at_s)}: no leak test passed since "
        f"{opened} at {clock.at(one.opened_s)}"
    )


@finding_words.register
def _(one: CaseRanLong, clock: _Clock) -> str:
    ran, limit = duration_text(one.ran_s), format_decimal(one.limit_h)
    return (
        f"case {one.case}, begun at {clock.time(one.at_s)}, ran {ran}, more than {limit} h: its "
        "end may be forgotten"
    )


@finding_words.register
def _(one: CheckMissed, _: _Clock) -> str:
    cases = "1 case" if one.cases == 1 else f"{one.cases} cases"
    return f"ran {cases}, and no daily check of that day is recorded"


@finding_words.register
def _(one: CheckNotFinished, clock: _Clock) -> str:
    what = f"the {one.checklist} check of {clock.time(one.at_s)}"
    if one.left:
        return f"{what} was left before its end"
    return f"{what} (entry {one.entries[0]}) has items that were not done"


@finding_words.register
def _(one: RecordedLate, clock: _Clock) -> str:
    kind = one.kind.replace("_", " ")
    return (
        f"{kind} of {clock.time(one.at_s)} (entry {one.entries[0]}) was recorded "
        f"{_roughly(one.late_s)} later"
    )


@finding_words.register
def _(one: Corrected, _: _Clock) -> str:
    entry, by = one.entries
    did = "withdrawn" if one.withdrawn else "replaced"
    return f"{one.kind.replace('_', ' ')} (entry {entry}) was {did} by entry {by}: {one.reason}"


@finding_words.register
def _(one: ReturnedWithoutEvidence, clock: _Clock) -> str:
    back, evidence, fault = one.entries
    detail = f", {one.fault.detail}" if one.fault.detail else ""
    return (
        f"put back in service at {clock.time(one.at_s)} (entry {back}), but entry {evidence} does "
        f"not show that {one.fault.what}{detail} (entry {fault}) had ended"
    )


@finding_words.register
def _(one: ChangeLate, clock: _Clock) -> str:
    change, old = one.entries
    amounts = _amounts(one.used_s, one.limit_h, one.days, one.limit_d)
    return (
        f"absorbent changed late at {clock.time(one.at_s)} (entry {change}): the old charge "
        f"(entry {old}) had {amounts}"
    )


@finding_words.register
def _(one: ChangeWithoutUse, clock: _Clock) -> str:
    change, old = one.entries
    days = "1 day" if one.days == 1 else f"{one.days} days"
    return (
        f"absorbent changed at {clock.time(one.at_s)} (entry {change}), but the old charge "
        f"(entry {old}) had no use in {days}"
    )


@finding_words.register
def _(one: CheckDuringCase, clock: _Clock) -> str:
    check, case = one.entries
    return (
        f"{one.checklist} check {check} of {clock.time(one.at_s)} was walked while case {case} ran "
        f"from {clock.time(one.began_s)} to {clock.time(one.ended_s)}"
    )


@finding_words.register
def _(one: HoldTooShort, clock: _Clock) -> str:
    return (
        f"{one.checklist} check {one.entries[0]} of {clock.time(one.at_s)}: the hold typed for "
        f"{one.item} is longer than the time since the answer before it"
    )


@finding_words.register
def _(one: ClockBack, clock: _Clock) -> str:
    entry, before = one.entries
    return (
        f"entry {entry} was recorded at {clock.at(one.recorded_s)}, with the clock before that of "
        f"entry {before}"
    )


@finding_words.register
def _(one: Restored, _: _Clock) -> str:
    lost = "an unknown number of" if one.lost_entries is None else str(one.lost_entries)
    return f"brought back from a copy (entry {one.entries[0]}), {lost} entries lost: {one.reason}"
