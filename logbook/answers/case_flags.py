"""What stood against the machine of a case, or its vaporizers, when it was begun.

A flag is what an audit finds about the case, by all that is known: what was written down later
shows as that, and takes no flag away.
"""

from collections import defaultdict

from logbook.answers.audit_cases import (
    charges,
    out_of_service,
    ran_long,
    unchecked,
    unknown_absorbent,
    without_leak_test,
)
from logbook.answers.audit_facts import facts_between
from logbook.answers.audit_verifications import overdue_verifications
from logbook.answers.finding import Audited, CaseFinding, CheckedAfter
from logbook.answers.moment import Moment
from logbook.answers.register import Register

CASE_RULES = (
    out_of_service,
    unchecked,
    charges,
    unknown_absorbent,
    overdue_verifications,
    without_leak_test,
    ran_long,
)


def case_flags(
    register: Register, moment: Moment, from_s: int, to_s: int, machine: str | None = None
) -> dict[int, list[CaseFinding]]:
    """The flags of every case that began from the day of ``from_s`` on and before ``to_s``, worst
    first, by its entry.

    A case from before the first day of this logbook has none: nobody was asked for a check then.
    """
    first = max(moment.day_of(from_s), register.clinic.since)
    from_s = moment.day_began_s(first)
    flags: dict[int, list[CaseFinding]] = defaultdict(list)
    if from_s < to_s:
        facts = facts_between(register, moment, from_s, to_s, machine)
        for rule in CASE_RULES:
            for one in rule(facts):
                if isinstance(one, CaseFinding):
                    flags[one.case].append(one)
    rank = {kind: place for place, kind in enumerate(Audited)}
    return {case: sorted(found, key=lambda one: rank[one.finding]) for case, found in flags.items()}


def accuses(flag: CaseFinding) -> bool:
    """Whether something was wrong; a sheet of paper that is typed later on its day is told, too."""
    return not (isinstance(flag, CheckedAfter) and flag.same_day)
