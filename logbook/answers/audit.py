"""The inspector's question: what went wrong in a span of days, by all that is known, worst first.

It tells what the record shows and what was looked at; what nobody wrote down it cannot know.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from logbook.answers.audit_entries import (
    not_finished,
    odd_checks,
    restored,
    returned,
    written_oddly,
)
from logbook.answers.audit_facts import AuditFacts, facts_between
from logbook.answers.case_flags import CASE_RULES
from logbook.answers.equipment import known_machine
from logbook.answers.finding import Audited, Finding, Restored
from logbook.answers.moment import Moment, end_of
from logbook.answers.register import Register

Rule = Callable[[AuditFacts], Iterator[Finding]]
RULES: tuple[Rule, ...] = (
    *CASE_RULES,
    not_finished,
    odd_checks,
    written_oddly,
    returned,
    restored,
)


@dataclass(frozen=True, slots=True)
class LookedAt:
    """How much an audit looked at."""

    machines: int
    days: int
    entries: int
    cases: int
    checks: int
    changes: int
    returns: int
    corrections: int


@dataclass(frozen=True, slots=True)
class Total:
    """How often one kind of finding was found."""

    finding: Audited
    count: int


@dataclass(frozen=True, slots=True)
class Audit:
    """What was found from the first to the last day, both included, and what was looked at; days
    before ``since``, the first of this logbook, are not, because nobody kept it then."""

    first: date
    last: date
    since: date
    machine: str | None
    looked_at: LookedAt
    findings: list[Finding]

    @property
    def totals(self) -> list[Total]:
        """The kinds that were found, the worst first."""
        counts = Counter(one.finding for one in self.findings)
        return [Total(kind, counts[kind]) for kind in Audited if counts[kind]]


def audit(
    connection: Connection, moment: Moment, first: date, last: date, machine: str | None = None
) -> Audit:
    """Everything that the days from ``first`` to ``last`` show, on one machine or on all.

    Raises:
        NotKnown: there is no such machine.
    """
    if machine is not None:
        known_machine(connection, machine)
    register = Register(connection)
    to_s = min(end_of(last, moment.zone).at_s, moment.at_s) + 1
    from_s = moment.day_began_s(max(first, register.clinic.since))
    return audit_of(facts_between(register, moment, from_s, to_s), first, last, machine)


def audit_of(facts: AuditFacts, first: date, last: date, machine: str | None = None) -> Audit:
    """The same by facts of these days that were read already, about all machines."""
    since = facts.register.clinic.since
    found = [one for rule in RULES for one in rule(facts)]
    if machine is not None:
        found = [one for one in found if one.machine == machine or isinstance(one, Restored)]
    rank = {kind: place for place, kind in enumerate(Audited)}
    found.sort(key=lambda one: (rank[one.finding], one.at_s, one.machine or "", one.entries))
    looked_at = _looked_at(facts, max(first, since), last, machine)
    return Audit(first, last, since, machine, looked_at, found)


def _looked_at(facts: AuditFacts, first: date, last: date, machine: str | None) -> LookedAt:
    def ours(place: str | None) -> bool:
        return machine in (None, place)

    return LookedAt(
        machines=len(facts.machines) if machine is None else 1,
        days=max((last - first).days + 1, 0),
        entries=sum(ours(facts.about(one)[0]) for one in facts.written.values()),
        cases=sum(ours(one.machine) for one in facts.begun),
        checks=sum(len(checks) for tag, checks in facts.checks.items() if ours(tag)),
        changes=sum(
            change.at_s >= facts.from_s
            for tag, changes in facts.changes.items()
            if ours(tag)
            for change, _ in changes
        ),
        returns=sum(ours(facts.place_of(row.unit, row.at_s)) for row in facts.returns),
        corrections=sum(
            ours(facts.about(facts.written[row.corrects])[0]) for row in facts.corrections
        ),
    )
