"""All machines at a glance: may each be used, why not, and the amounts that are left."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import Connection

from logbook.answers.absorbent import absorbent_items
from logbook.answers.agent import AgentLeft, agent_left
from logbook.answers.facts import CheckDone, Gauge, OnMachine
from logbook.answers.item import Asked, Clock, ask
from logbook.answers.moment import Moment
from logbook.answers.ready import Readiness, ready_from
from logbook.answers.reason import Reason
from logbook.projections.lookup import MachineView
from logbook.times import epoch_s, utc_from_epoch_s


@dataclass(frozen=True, slots=True)
class FittedVaporizer:
    """A vaporizer on a machine and the agent that is probably left in it."""

    vaporizer: str
    agent: str
    left: AgentLeft


@dataclass(frozen=True, slots=True)
class Begun:
    """A check on a machine that was begun and is not finished, with how many items are answered."""

    checklist: str
    by: str
    at: datetime
    answered: int


@dataclass(frozen=True, slots=True)
class Runs:
    """A case that runs on a machine, since when, and for how many seconds."""

    entry: int
    since: datetime
    ran_s: int


@dataclass(frozen=True, slots=True)
class BoardLine:
    """A machine as it stands: the verdict with its reasons, and the amounts a person looks for.

    ``absorbent_h`` and its limit are None where no change is recorded or the clock is off,
    ``oxygen_read_on`` where every gauge was read that day.
    """

    machine: str
    location: str | None
    readiness: Readiness
    may_be_used: bool
    reasons: list[Reason]
    check: CheckDone | None
    begun: list[Begun]
    running: Runs | None
    absorbent_h: Decimal | None
    absorbent_limit_h: Decimal | None
    vaporizers: list[FittedVaporizer]
    cylinder: Gauge | None
    cylinders: list[OnMachine]
    oxygen_read_on: date | None


def board(connection: Connection, moment: Moment) -> list[BoardLine]:
    """One line for each machine in use, the worst first."""
    asked = ask(connection, moment)
    lines = [_line(asked, view) for view in asked.machines.values()]
    return sorted(lines, key=lambda one: (WORST_FIRST.index(one.readiness), one.machine))


WORST_FIRST = (
    Readiness.NOT_READY,
    Readiness.CANNOT_TELL,
    Readiness.REMARKS,
    Readiness.READY,
)


def _runs(asked: Asked, machine: str) -> Runs | None:
    case, at_s = asked.known.running.get(machine), asked.moment.at_s
    if case is None:
        return None
    return Runs(case.entry, utc_from_epoch_s(case.began_s), at_s - case.began_s)


def _read_before(asked: Asked, cylinders: list[OnMachine]) -> date | None:
    """The day of the oldest gauge, if it is an earlier one."""
    days = [asked.moment.day_of(epoch_s(one.gauge.at)) for one in cylinders if one.gauge]
    return min((day for day in days if day < asked.moment.day), default=None)


def _line(asked: Asked, view: MachineView) -> BoardLine:
    verdict = ready_from(asked, view.machine)
    clocks = absorbent_items(asked, view, estimate=False)
    hours = [item for item in clocks if item.clock is Clock.HOURS]
    cylinders = asked.known.cylinders(view.machine)
    return BoardLine(
        machine=view.machine,
        location=view.location,
        readiness=verdict.readiness,
        may_be_used=verdict.may_be_used,
        reasons=verdict.reasons,
        check=asked.known.checks.today(view.machine),
        begun=[
            Begun(one.checklist, one.begun_by, one.begun_at, len(one.kept))
            for one in asked.known.begun
            if one.machine == view.machine and one.begun_at <= utc_from_epoch_s(asked.moment.at_s)
        ],
        running=_runs(asked, view.machine),
        absorbent_h=hours[0].used if hours else None,
        absorbent_limit_h=hours[0].limit if hours else None,
        vaporizers=[
            FittedVaporizer(one.vaporizer, one.agent, agent_left(asked, one))
            for one in asked.vaporizers.values()
            if one.machine == view.machine
        ],
        cylinder=next((one.gauge for one in cylinders if one.gauge), None),
        cylinders=cylinders,
        oxygen_read_on=_read_before(asked, cylinders),
    )
