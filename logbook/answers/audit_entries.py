"""What an audit finds about checks, and about how entries were written down."""

from collections.abc import Iterator

from logbook.answers.audit_cases import signers
from logbook.answers.audit_facts import AuditFacts
from logbook.answers.finding import (
    CheckDuringCase,
    CheckNotFinished,
    ClockBack,
    Corrected,
    Finding,
    HoldTooShort,
    RecordedLate,
    Restored,
    ReturnedWithoutEvidence,
)
from logbook.answers.unfinished import LIMIT, unfinished_checks
from logbook.times import epoch_s, utc_from_epoch_s


def not_finished(facts: AuditFacts) -> Iterator[Finding]:
    """Checks with items that were not done, and checks that were left, where no later one of the
    same list came to an end that day."""
    day_of = facts.moment.day_of
    for machine, checks in facts.checks.items():
        ended = {
            (one.checklist, day_of(one.at_s)): one.at_s
            for one in checks
            if one.verdict != "incomplete"
        }
        for one in checks:
            later_s = ended.get((one.checklist, day_of(one.at_s)), 0)
            if one.verdict == "incomplete" and later_s < one.at_s:
                yield CheckNotFinished(
                    machine, machine, one.at_s, (one.entry,), (one.by,), one.checklist, left=False
                )
    now = utc_from_epoch_s(facts.moment.at_s)
    for left in unfinished_checks(facts.register.connection):
        at_s = epoch_s(left.begun_at)
        if left.machine in facts.machines and facts.from_s <= at_s < facts.to_s:
            limit_h = facts.values(left.machine, facts.moment.at_s)[LIMIT]
            if day_of(at_s) < facts.moment.day or left.has_ended(now, limit_h):
                by = signers(left.begun_by, left.walked_by)
                told = (left.machine, left.machine, at_s, (), by)
                yield CheckNotFinished(*told, left.checklist, left=True)


def odd_checks(facts: AuditFacts) -> Iterator[Finding]:
    """Checks walked while a case ran, and those with a hold that is too short to be true."""
    for machine, checks in facts.checks.items():
        for one in checks:
            told = (machine, machine, one.at_s)
            for case in facts.cases_during(machine, one.begun_s, one.at_s):
                if case.began_s < one.at_s and one.begun_s < case.ended_s:
                    yield CheckDuringCase(
                        *told, (one.entry, case.entry), (one.by,), one.checklist,
                        case.began_s, case.ended_s,
                    )  # fmt: skip
            if one.hasty is not None:
                yield HoldTooShort(*told, (one.entry,), (one.by,), one.checklist, one.hasty)


def written_oddly(facts: AuditFacts) -> Iterator[Finding]:
    """Entries recorded late, corrected, or with a clock set back."""
    withdrawn = {row.corrects for row in facts.corrections if row.withdrawn}
    for one in facts.written.values():
        told = (*facts.about(one), one.at_s)
        if one.how.late_s is not None and one.entry not in withdrawn:
            yield RecordedLate(*told, (one.entry,), (one.by,), one.kind, one.how.late_s)
        if one.how.clock_back:
            entries = (one.entry, one.entry - 1)
            yield ClockBack(*told, entries, (one.by,), one.recorded_s)
    for row in facts.corrections:
        one = facts.written[row.corrects]
        told = (*facts.about(one), one.at_s)
        entries, by = (one.entry, row.entry), (row.by,)
        yield Corrected(*told, entries, by, one.kind, row.withdrawn, row.reason)


def returned(facts: AuditFacts) -> Iterator[Finding]:
    """Returns to service that ended not all that kept the unit from use then."""
    for row in facts.returns:
        held = [one for one in facts.out_of_service[row.unit] if one.holds(row.at_s)]
        if held:
            fault = held[0].fault
            place = facts.place_of(row.unit, row.at_s)
            entries = (row.entry, row.evidence_entry, fault.entry)
            yield ReturnedWithoutEvidence(place, row.unit, row.at_s, entries, (row.by,), fault)


def restored(facts: AuditFacts) -> Iterator[Finding]:
    """Times at which the ledger was brought back from a copy, whatever was lost by it."""
    for row in facts.restores:
        yield Restored(None, None, row.at_s, (row.entry,), (row.by,), row.lost_entries, row.reason)
