"""How a unit did over time: a machine's hours by charge of absorbent and leaks by check, a
vaporizer's agent seen and counted and its measured outputs."""

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any, cast

from sqlalchemy import CompoundSelect, Connection, select, union

from logbook.answers.absorbent import counted_circuits
from logbook.answers.drift import Compared, agent_compared
from logbook.answers.item import ask_in
from logbook.answers.moment import Moment
from logbook.answers.outputs import Verification, output_history
from logbook.answers.register import Register
from logbook.answers.spans import Ran, on_machine
from logbook.entries.check import Check
from logbook.projections.project import counting
from logbook.projections.tables import absorbent_change, check, check_answer

CHARGES, LEAKS = 12, 30
"""How many charges and checks are looked back at; our own choice: a picture as wide as a phone."""
OTHERS = 200
"""Among so many last checks without a passed leak test those are sought in which one failed; our
own choice: far more than there are between thirty that passed."""


@dataclass(frozen=True, slots=True)
class ChargeUsed:
    """A charge of absorbent: the entry of its change, from when to when it was in use (None while
    it is), seconds of use, and the limit in hours that was in force at its end; None where none."""

    entry: int
    from_at: datetime
    ended_at: datetime | None
    used_s: int
    limit_h: Decimal | None


@dataclass(frozen=True, slots=True)
class LeakSeen:
    """A leak test of a check: the flow that held the pressure or that a timed fall comes to, or for
    how long it held; how it was judged, and the largest flow that was allowed then."""

    entry: int
    at: datetime
    flow_ml_min: Decimal | None
    held_s: int | None
    state: str
    limit_ml_min: Decimal


@dataclass(frozen=True, slots=True)
class OverTime:
    """What was measured of a unit again and again, the oldest first; of a machine the first two, of
    a vaporizer the others."""

    charges: list[ChargeUsed] = field(default_factory=list)
    leaks: list[LeakSeen] = field(default_factory=list)
    agent: list[Compared] = field(default_factory=list)
    outputs: list[Verification] = field(default_factory=list)


def over_time(connection: Connection, moment: Moment, unit: str) -> OverTime:
    """How a machine or vaporizer did up to a moment."""
    register = Register(connection)
    views = register.vaporizers(moment.at_s)
    if unit not in views:
        return OverTime(charges(register, moment, unit), leaks(register, moment, unit))
    asked = ask_in(register, moment, views[unit].machine)
    agent = agent_compared(asked, asked.vaporizers[unit])
    return OverTime(agent=agent, outputs=output_history(connection, moment, unit).verifications)


def charges(register: Register, moment: Moment, machine: str) -> list[ChargeUsed]:
    """The last charges of a machine, the oldest first."""
    table = absorbent_change
    newest_first = (
        select(table.c.entry, table.c.at_s)
        .where(table.c.machine == machine, table.c.at_s <= moment.at_s)
        .order_by(table.c.at_s.desc(), table.c.entry.desc())
        .limit(CHARGES)
    )
    changes = list(register.connection.execute(newest_first))[::-1]
    ends = [*(row.at_s for row in changes), None][1:]
    spans = list(zip(changes, ends, strict=False))  # Without a change there is no end either.
    ran = register.ran(
        on_machine(row.entry, machine, row.at_s, moment.at_s if end_s is None else end_s)
        for row, end_s in spans
    )
    found = []
    for row, end_s in spans:
        values = register.rules_at(moment.at_s if end_s is None else end_s).for_machine(machine)
        used_s = ran.get(row.entry, Ran()).on(counted_circuits(values)).ran_s
        found.append(
            ChargeUsed(
                row.entry, moment.local(row.at_s), None if end_s is None else moment.local(end_s),
                used_s, values["absorbent-hours"] or None,
            )
        )  # fmt: skip
    return found


def leaks(register: Register, moment: Moment, machine: str) -> list[LeakSeen]:
    """The leak tests of the last checks of a machine in which there was one, the oldest first."""
    answer = check_answer
    last = _last_checks(machine, moment.at_s).subquery()
    query = (
        select(
            last.c.entry, last.c.at_s, answer.c.item, answer.c.value, answer.c.unit,
            answer.c.held_s, answer.c.state,
        )
        .join(answer, answer.c.entry == last.c.entry)
        .where(answer.c.tested == "leak", answer.c.state.in_(("passed", "failed")))
        .order_by(last.c.at_s.desc(), last.c.entry.desc(), answer.c.item)
        .limit(LEAKS)
    )  # fmt: skip
    return [
        LeakSeen(
            row.entry, moment.local(row.at_s), _flow(register.connection, row), row.held_s,
            row.state, register.rules_at(row.at_s).for_machine(machine)["leak-flow"],
        )
        for row in list(register.connection.execute(query))[::-1]
    ]  # fmt: skip


def _flow(connection: Connection, row: Any) -> Decimal | None:
    """The flow in mL/min that was read, or that a timed fall comes to by the compliance on record;
    None where the test told neither."""
    if row.unit == "mL/min":
        return cast("Decimal", row.value)
    found = counting(connection, row.entry)
    answers = found.body.answers if found and isinstance(found.body, Check) else ()
    return next((one.leak_ml_min for one in answers if one.item == row.item), None)


def _last_checks(machine: str, at_s: int) -> CompoundSelect[tuple[int, int]]:
    """The last checks with a passed leak test and the last others, each by an index."""
    parts = []
    for passed, most in ((1, LEAKS), (0, OTHERS)):
        part = (
            select(check.c.entry, check.c.at_s)
            .where(check.c.machine == machine, check.c.leak_passed == passed, check.c.at_s <= at_s)
            .order_by(check.c.at_s.desc())
            .limit(most)
            .subquery()
        )
        parts.append(select(part))
    return union(*parts)
