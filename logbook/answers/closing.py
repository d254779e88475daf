"""What is left at the end of the day: cases that still run, machines that were used unchecked."""

from collections import Counter
from dataclasses import dataclass

from sqlalchemy import Connection

from logbook.answers.audit_cases import unchecked
from logbook.answers.audit_facts import facts_between
from logbook.answers.finding import CaseWithoutCheck
from logbook.answers.moment import Moment
from logbook.answers.register import Register
from logbook.projections.lookup import running_cases


@dataclass(frozen=True, slots=True)
class Closing:
    """Machines whose case runs, with the seconds so far, and machines that were used that day
    before a daily check had passed, with the number of such cases."""

    running: dict[str, int]
    unchecked: dict[str, int]


def closing(connection: Connection, moment: Moment) -> Closing:
    """What is left of the day of a moment."""
    register = Register(connection)
    running = running_cases(connection, list(register.machines(moment.at_s)), moment.at_s)
    facts = facts_between(register, moment, moment.day_began_s(moment.day), moment.at_s + 1)
    found = [one for one in unchecked(facts) if isinstance(one, CaseWithoutCheck)]
    used = Counter(one.machine for one in found if one.machine is not None)
    return Closing(
        {tag: moment.at_s - row.began_s for tag, row in sorted(running.items())},
        dict(sorted(used.items())),
    )
