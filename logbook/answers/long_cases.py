"""Cases that ran so long that their end may have been forgotten."""

from decimal import Decimal
from statistics import median

from sqlalchemy import Connection, select

from logbook.answers.moment import Moment
from logbook.answers.register import Register
from logbook.projections.lookup import case_ended
from logbook.projections.tables import case
from logbook.value import Value

LONG_CASE = "long-case"
"""The limit in hours beyond which a case is asked about."""
TIMES_USUAL = 3
LOOKED_AT = 20
"""How many cases of a machine tell what is usual there; our own choice."""
ENOUGH = 5
"""Of fewer cases nothing is usual; our own choice."""


class Long(Value):
    """A case that ran long: seconds, the limit in hours (0: there is none), and the seconds that
    its machine usually runs, None where nothing is usual."""

    ran_s: int
    limit_h: Decimal
    usual_s: int | None


def ran_long(
    register: Register, moment: Moment, machine: str, began_s: int, ran_s: int
) -> Long | None:
    """A case that ran so long that its end may have been forgotten; None where it did not."""
    limit_h = register.rules_at(moment.at_s).for_machine(machine)[LONG_CASE]
    usual_s = usual_case_s(register.connection, machine, began_s)
    return Long(ran_s, limit_h, usual_s) if is_long(ran_s, limit_h, usual_s) else None


def usual_case_s(connection: Connection, machine: str, before_s: int) -> int | None:
    """How many seconds the last cases of a machine before an instant usually ran, None where too
    few of them have ended."""
    ended = case_ended()
    query = (
        select(case.c.began_s, ended.label("end_s"))
        .where(case.c.machine == machine, case.c.began_s < before_s, ended.is_not(None))
        .order_by(case.c.began_s.desc())
        .limit(LOOKED_AT)
    )
    ran = [row.end_s - row.began_s for row in connection.execute(query)]
    return int(median(ran)) if len(ran) >= ENOUGH else None


def is_long(ran_s: int, limit_h: Decimal, usual_s: int | None) -> bool:
    """Whether a case ran longer than the limit (0: there is none), or than three times what is
    usual on its machine."""
    beyond_limit = bool(limit_h) and ran_s > limit_h * 3600
    return beyond_limit or (usual_s is not None and ran_s > TIMES_USUAL * usual_s)
