"""What shows a stranger how machines were kept in a span of days: the answers, and the entries on
which they rest, each with the hash before it."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, select

from logbook.answers.audit import Audit, audit_of
from logbook.answers.audit_facts import AuditFacts, facts_between
from logbook.answers.cases import CaseLine, case_list
from logbook.answers.due import Due, due_and_open
from logbook.answers.equipment import known_machine
from logbook.answers.facts import Change
from logbook.answers.finding import CaseFinding
from logbook.answers.moment import Moment, end_of
from logbook.answers.register import Register
from logbook.answers.rules import InForce, rules_set
from logbook.ledger.chain import Stored, genesis_hash
from logbook.ledger.schema import entry
from logbook.ledger.store import Entry, as_entry, last_recorded, ledger_uuid
from logbook.projections.project import NEVER_CORRECTED, corrected_by, last_corrections
from logbook.projections.tables import correction, mention
from logbook.times import epoch_s, utc_from_epoch_s, utc_text

BATCH = 5_000
SET_UP = frozenset({
    "clinic", "staff", "machine", "machine_change", "machine_retirement", "vaporizer",
    "vaporizer_fitting", "vaporizer_removal", "checklist", "service_plan", "rule_change", "restore",
})  # fmt: skip
"""Kinds that say how everything else is to be read, also where they were entered later."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """The answers about a span of days, the limits in force at its end, the changes of absorbent in
    it with who signed them, the cases since the charges with which it began, and the numbers of all
    entries that belong to it."""

    audit: Audit
    due: Due
    limits: list[InForce]
    changes: list[tuple[str, Change, str]]
    cases: list[CaseLine]
    entries: list[int]


@dataclass(frozen=True, slots=True)
class Linked:
    """An entry as it is stored, and the hash before it. ``now`` is what it says after the last
    correction, entry ``fixed_by``; None where it was withdrawn."""

    before: str
    row: Stored
    now: Entry | None
    fixed_by: int | None


def evidence(
    connection: Connection, now: datetime, first: date, last: date, machine: str | None = None
) -> Evidence:
    """What there is to show of the days from ``first`` to ``last``, of one machine or of all.

    It depends on the ledger and these days alone, so that it comes out the same each time.

    Raises:
        NotKnown: there is no such machine.
    """
    register = Register(connection)
    moment = _moment(connection, end_of(last, register.clinic.zone), now)
    if machine is not None:
        known_machine(connection, machine)
    from_s = moment.day_began_s(max(first, register.clinic.since))
    facts = facts_between(register, moment, from_s, moment.at_s + 1)
    found = audit_of(facts, first, last, machine)
    if machine is not None:
        facts = facts_between(register, moment, from_s, moment.at_s + 1, machine)
    flags: dict[int, list[CaseFinding]] = defaultdict(list)
    for one in found.findings:
        if isinstance(one, CaseFinding):
            flags[one.case].append(one)
    since_s = {tag: _since_s(facts, tag) for tag in facts.machines}
    changes = [
        (tag, change, by)
        for tag, told in facts.changes.items()
        for change, by in told
        if change.at_s >= from_s
    ]
    told = _told(connection, facts, found, machine)
    del facts  # What was read of a year takes more room than its cases, which come next.
    cases = [
        case
        for tag, from_s in since_s.items()
        for case in case_list(connection, moment, from_s, tag, flags)
    ]
    seqs = _with_corrections(connection, told | {one.entry for one in cases})
    due = due_and_open(connection, moment)
    due = due if machine is None else _of(due, machine)
    return Evidence(found, due, rules_set(connection, moment.at_s), changes, cases, seqs)


def _moment(connection: Connection, end: Moment, now: datetime) -> Moment:
    """The end of the last day; of a day that goes on, the last thing that was recorded."""
    if end.at_s < epoch_s(now):
        return end
    recorded_s = epoch_s(last_recorded(connection) or now)
    return Moment(min(end.at_s, max(recorded_s, end.day_began_s(end.day))), end.day, end.zone)


def _of(due: Due, machine: str) -> Due:
    return Due(
        due.moment,
        [one for one in due.items if one.machine == machine],
        [one for one in due.stopped if one.machine == machine],
        [one for one in due.noted if one.machine == machine],
    )


def _since_s(facts: AuditFacts, tag: str) -> int:
    """Since when the cases of a machine are told: since the charge that the span began with. Only
    those of the span have flags."""
    changes = facts.changes.get(tag, [])
    return min([facts.from_s, *(change.at_s for change, _ in changes)])


def _told(connection: Connection, facts: AuditFacts, found: Audit, machine: str | None) -> set[int]:
    """What was written of the span or in it, and what says how to read that."""
    wanted = {
        one.entry
        for one in facts.written.values()
        if machine is None or facts.about(one)[0] == machine
    }
    wanted |= {change.entry for told in facts.changes.values() for change, _ in told}
    wanted |= {number for one in found.findings for number in one.entries}
    header = select(entry.c.seq)
    wanted |= set(connection.execute(header.where(entry.c.kind.in_(SET_UP))).scalars())
    if machine is None:
        since, until = (utc_text(utc_from_epoch_s(at)) for at in (facts.from_s, facts.to_s))
        recorded = header.where(entry.c.recorded_at >= since, entry.c.recorded_at < until)
        wanted |= set(connection.execute(recorded).scalars())
    return wanted


def _with_corrections(connection: Connection, wanted: set[int]) -> list[int]:
    """The same with the ends of cases and the corrections, in their order."""
    ends = select(mention.c.refers, mention.c.entry).where(mention.c.refers.is_not(None))
    fixes = select(correction.c.corrects, correction.c.entry)
    for query in (ends, fixes):
        wanted |= {by for about, by in connection.execute(query).all() if about in wanted}
    return sorted(wanted)


def linked(connection: Connection, seqs: Sequence[int]) -> Iterator[Linked]:
    """These entries in their order, with what they say after all that is known."""
    fixes = last_corrections(_corrections(connection))
    first = genesis_hash(ledger_uuid(connection))
    before = entry.alias("before")
    query = select(entry, before.c.hash.label("hash_before")).outerjoin(
        before, before.c.seq == entry.c.seq - 1
    )
    for start in range(0, len(seqs), BATCH):
        some = query.where(entry.c.seq.in_(seqs[start : start + BATCH])).order_by(entry.c.seq)
        for told in connection.execute(some):
            columns = dict(told._mapping)
            hash_before = columns.pop("hash_before") or first
            row = Stored(**columns)
            fix = None if row.kind in NEVER_CORRECTED else fixes.get(row.seq)
            one = as_entry(row)
            now = corrected_by(one, fix) if fix else one
            yield Linked(hash_before, row, now, fix.seq if fix else None)


def _corrections(connection: Connection) -> Iterator[Stored]:
    numbers = select(correction.c.entry)
    query = select(entry).where(entry.c.seq.in_(numbers)).order_by(entry.c.seq)
    return (Stored(**row._mapping) for row in connection.execute(query))
