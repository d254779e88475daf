"""Cases run with a vaporizer whose output should have been verified before."""

from collections.abc import Iterator
from datetime import date
from functools import cache

from logbook.answers.audit_facts import AuditFacts
from logbook.answers.audit_ran import RanCase
from logbook.answers.facts import Plan
from logbook.answers.finding import CaseVerificationOverdue, Finding
from logbook.answers.picked import Key
from logbook.answers.seen import clock_from
from logbook.answers.spans import with_vaporizer
from logbook.arithmetic.calendar import next_due
from logbook.errors import InputError
from logbook.projections.lookup import OUTPUT_VERIFICATION
from logbook.value import Value

_next_due = cache(next_due)


class _Use(Value):
    """A case with a vaporizer, the plan that counted, empty where nobody planned, and since when
    its clocks ran."""

    case: RanCase
    tag: str
    plan: Plan
    last: date
    since_s: int
    entry: int | None


def overdue_verifications(facts: AuditFacts) -> Iterator[Finding]:
    """By the calendar, or by the age of its certification, on the day after it was due, by run
    hours once they were passed before the case; a verification that failed put the vaporizer out of
    service, and is told as that."""
    uses = list(_uses(facts))
    before = _ran_before(facts, uses)
    for use in uses:
        case, plan = use.case, use.plan
        due_on = _due_on(facts, use)
        if due_on is not None and due_on >= facts.moment.day_of(case.began_s):
            due_on = None
        used_s = before.get((use.tag, use.since_s), 0) + facts.ran_with(
            use.tag, max(use.since_s, facts.from_s), case.began_s
        )
        too_long = plan.run_hours is not None and used_s > plan.run_hours * 3600
        if due_on is not None or too_long:
            entries = (case.entry, use.entry) if use.entry else (case.entry,)
            yield CaseVerificationOverdue(
                case.machine, use.tag, case.began_s, entries, (case.by,), due_on,
                used_s if too_long else None, plan.run_hours if too_long else None,
            )  # fmt: skip


def _uses(facts: AuditFacts) -> Iterator[_Use]:
    for case in facts.begun:
        for tag in case.vaporizers:
            planned = facts.verification_plan(tag, case.began_s)
            plan = planned or Plan(tag, OUTPUT_VERIFICATION, None, None, None)
            done = facts.verified(tag, case.began_s)
            if done is None or done.outcome == "passed":
                last, since_s = clock_from(plan, done, facts.moment)
                if last is not None:
                    yield _Use(case, tag, plan, last, since_s, done.entry if done else None)


def _due_on(facts: AuditFacts, use: _Use) -> date | None:
    """By its plan, or where its certification is too old before that, planned or not."""
    months = int(facts.values(use.case.machine, use.case.began_s)["vaporizer-verified-months"])
    every = [use.plan.every, f"P{months}M" if months else None]
    days = [_next_on(one, use.last) for one in every if one]
    return min((day for day in days if day is not None), default=None)


def _next_on(every: str, last: date) -> date | None:
    try:
        return _next_due(every, last)
    except InputError:
        return None  # A rule that has come to its end names no day that was missed.


def _ran_before(facts: AuditFacts, uses: list[_Use]) -> dict[Key, int]:
    """Seconds that each vaporizer ran before the span, since its clocks began."""
    asked = {(use.tag, use.since_s) for use in uses if use.plan.run_hours}
    spans = (
        span
        for tag, since_s in asked
        if since_s < facts.from_s
        for span in with_vaporizer(
            (tag, since_s), facts.vaporizers[tag], facts.stays.get(tag, []), since_s, facts.from_s
        )
    )
    return {key: one.ran_s for key, one in facts.register.ran(spans).items()}
