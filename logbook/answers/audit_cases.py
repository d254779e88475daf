"""What an audit finds about cases and charges of absorbent: rules over what was read."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from itertools import pairwise

from logbook.answers.absorbent import counted_circuits
from logbook.answers.audit_facts import AuditFacts
from logbook.answers.audit_ran import RanCase
from logbook.answers.finding import (
    CaseAbsorbentUnknown,
    CaseOutOfService,
    CasePastAbsorbent,
    CaseRanLong,
    CaseWithoutCheck,
    CaseWithoutLeakTest,
    ChangeLate,
    ChangeWithoutUse,
    CheckedAfter,
    CheckMissed,
    Finding,
)
from logbook.answers.long_cases import LONG_CASE, is_long
from logbook.projections.lookup import FOREVER_S
from logbook.value import Value


def signers(*by: str) -> tuple[str, ...]:
    """Who signed, each once, in their order."""
    return tuple(dict.fromkeys(by))


def out_of_service(facts: AuditFacts) -> Iterator[Finding]:
    """Cases begun while something kept their machine or vaporizer from use: the oldest counts."""
    for case in facts.begun:
        for unit in (case.machine, *case.vaporizers):
            held = (one for one in facts.out_of_service[unit] if one.holds(case.began_s))
            if (first := next(held, None)) is not None:
                fault = first.fault
                entries = (case.entry, fault.entry)
                yield CaseOutOfService(case.machine, unit, case.began_s, entries, (case.by,), fault)


def unchecked(facts: AuditFacts) -> Iterator[Finding]:
    """Cases without a passed daily check that day before them, or with one that was written down
    only after they had begun; and the days of use without any daily check."""
    days: dict[tuple[str, date], list[RanCase]] = defaultdict(list)
    for case in facts.begun:
        day = facts.moment.day_of(case.began_s)
        days[case.machine, day].append(case)
        yield from _unchecked(facts, case, day)
    for (machine, day), cases in days.items():
        if not facts.daily(machine, day):
            ran = tuple(one.entry for one in cases)
            by = signers(*(one.by for one in cases))
            yield CheckMissed(machine, machine, cases[0].began_s, ran, by, len(cases))


def _unchecked(facts: AuditFacts, case: RanCase, day: date) -> Iterator[Finding]:
    """What the daily checks before a case show: the last of them counts."""
    place = (case.machine, case.machine, case.began_s)
    before = [one for one in facts.daily(case.machine, day) if one.at_s <= case.began_s]
    last = before[-1] if before else None
    if last is None or last.verdict != "passed":
        told = (None, None) if last is None else (last.verdict, last.entry)
        yield CaseWithoutCheck(*place, (case.entry,), (case.by,), *told)
        return
    passed = (one for one in before if one.verdict == "passed")
    first = min(passed, key=lambda one: one.recorded_s)
    if first.recorded_s > case.began_s:
        entries, by = (case.entry, first.entry), signers(case.by, first.by)
        same_day = facts.moment.day_of(first.recorded_s) == day
        yield CheckedAfter(*place, entries, by, first.at_s, first.recorded_s, same_day)


def ran_long(facts: AuditFacts) -> Iterator[Finding]:
    """Cases that ran longer than the limit; what is usual there is told when one is saved."""
    for case in facts.begun:
        limit_h = facts.values(case.machine, case.began_s)[LONG_CASE]
        ran_s = case.ended_s - case.began_s
        if is_long(ran_s, limit_h, None):
            place = (case.machine, case.machine, case.began_s)
            yield CaseRanLong(*place, (case.entry,), (case.by,), ran_s, limit_h)


def without_leak_test(facts: AuditFacts) -> Iterator[Finding]:
    """Cases on a machine that was opened, and of which no leak test passed since (AAGBI 2012)."""
    for case in facts.begun:
        tested_s = facts.leak_tested_before(case.machine, case.began_s)
        first = facts.opened(case.machine, tested_s, case.began_s)
        if first is not None:
            entries = (case.entry, first.entry) if first.entry else (case.entry,)
            yield CaseWithoutLeakTest(
                case.machine, case.machine, case.began_s, entries, (case.by,),
                first.at_s, first.vaporizer, first.away,
            )  # fmt: skip


class _Charge(Value):
    """A charge of absorbent: from one change, whose entry and signer it knows, to the next."""

    machine: str
    entry: int
    from_s: int
    to_s: int
    changed_by: tuple[int, str] | None


def _charges(facts: AuditFacts) -> Iterator[_Charge]:
    for machine, changes in facts.changes.items():
        for (change, _), (later, by) in pairwise(changes):
            yield _Charge(machine, change.entry, change.at_s, later.at_s, (later.entry, by))
        last = changes[-1][0]
        yield _Charge(machine, last.entry, last.at_s, FOREVER_S, None)


def unknown_absorbent(facts: AuditFacts) -> Iterator[Finding]:
    """Cases that loaded an absorbent of which nobody recorded a change before them."""
    first_s = {tag: changes[0][0].at_s for tag, changes in facts.changes.items()}
    for case in facts.begun:
        counted = counted_circuits(facts.values(case.machine, case.began_s))
        known = first_s.get(case.machine, FOREVER_S) <= case.began_s
        if case.circuit in counted and not known:
            place = (case.machine, case.machine, case.began_s)
            yield CaseAbsorbentUnknown(*place, (case.entry,), (case.by,))


def charges(facts: AuditFacts) -> Iterator[Finding]:
    """Cases that took a charge of absorbent past its hours or days and those after them, and the
    changes that came late or without use.

    Carbon dioxide and colour warn; that they were passed is nothing that a record can show.
    """
    for charge in _charges(facts):
        used_s = facts.loaded_before_s(charge.machine)
        if charge.from_s >= facts.from_s:
            used_s = 0
        for case in facts.cases_during(charge.machine, charge.from_s, charge.to_s):
            values = facts.values(charge.machine, case.began_s)
            began_s = max(case.began_s, charge.from_s, facts.from_s)
            lasted_s = min(case.ended_s, charge.to_s) - began_s
            # One that was begun this very second has not lasted yet, and has its charge.
            on_it = lasted_s > 0 or charge.from_s <= case.began_s < charge.to_s
            if on_it and case.circuit in counted_circuits(values):
                used_s += lasted_s
                past = _past(facts, charge, case, used_s, lasted_s)
                if past is not None and case.began_s >= facts.from_s:
                    yield past
        if charge.changed_by is not None:
            yield from _change(facts, charge, used_s, *charge.changed_by)


def _past(
    facts: AuditFacts, charge: _Charge, case: RanCase, used_s: int, lasted_s: int
) -> Finding | None:
    """That a case ended past a limit of the charge it ran on, or was begun when it was reached."""
    values = facts.values(case.machine, case.began_s)
    limit_h, limit_d = values["absorbent-hours"], values["absorbent-days"]
    days = _days(facts, charge.from_s, case.began_s)
    before_s = used_s - lasted_s
    too_long = bool(limit_h) and (used_s > limit_h * 3600 or before_s >= limit_h * 3600)
    too_old = bool(limit_d) and days > limit_d
    if not (too_long or too_old):
        return None
    crossed = too_long and before_s <= limit_h * 3600
    return CasePastAbsorbent(
        case.machine, case.machine, case.began_s, (case.entry, charge.entry), (case.by,), crossed,
        used_s if too_long else None, limit_h, days if too_old else None, limit_d,
    )  # fmt: skip


def _change(
    facts: AuditFacts, charge: _Charge, used_s: int, entry: int, by: str
) -> Iterator[Finding]:
    """What the change at the end of a charge shows."""
    values = facts.values(charge.machine, charge.to_s)
    limit_h, limit_d = values["absorbent-hours"], values["absorbent-days"]
    days = _days(facts, charge.from_s, charge.to_s)
    told = (charge.machine, charge.machine, charge.to_s, (entry, charge.entry), (by,))
    if (limit_h and used_s > limit_h * 3600) or (limit_d and days > limit_d):
        yield ChangeLate(*told, used_s, limit_h, days, limit_d)
    elif not used_s and not (limit_d and days >= limit_d):
        yield ChangeWithoutUse(*told, days)


def _days(facts: AuditFacts, from_s: int, to_s: int) -> int:
    return (facts.moment.day_of(to_s) - facts.moment.day_of(from_s)).days
