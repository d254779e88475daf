"""All machines at a glance: may each be used, why not, and the amounts that are left."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from sqlalchemy import Connection

from logbook.answers.absorbent import absorbent_items
from logbook.answers.agent import AgentLeft, agent_left
from logbook.answers.facts import CheckDone, Gauge
from logbook.answers.item import Asked, Clock, ask
from logbook.answers.moment import Moment
from logbook.answers.ready import Reason, ready_from
from logbook.projections.lookup import MachineView
from logbook.times import utc_from_epoch_s


@dataclass(frozen=True, slots=True)
class VaporizerLine:
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
class BoardLine:
    """A machine as it stands: the verdict with its reasons, and the amounts a person looks for.

    ``absorbent_h`` and its limit are None where no change is recorded or the clock is off.
    """

    machine: str
    location: str | None
    verdict: str
    may_be_used: bool
    reasons: list[Reason]
    check: CheckDone | None
    begun: list[Begun]
    absorbent_h: Decimal | None
    absorbent_limit_h: Decimal | None
    vaporizers: list[VaporizerLine]
    cylinder: Gauge | None


def board(connection: Connection, moment: Moment) -> list[BoardLine]:
    """One line for each machine in use, by tag."""
    asked = ask(connection, moment)
    return [_line(asked, view) for view in asked.machines.values()]


def _line(asked: Asked, view: MachineView) -> BoardLine:
    verdict = ready_from(asked, view.machine)
    hours = [item for item in absorbent_items(asked, view) if item.clock is Clock.HOURS]
    return BoardLine(
        machine=view.machine,
        location=view.location,
        verdict=verdict.verdict,
        may_be_used=verdict.may_be_used,
        reasons=verdict.reasons,
        check=asked.known.check_today(view.machine),
        begun=[
            Begun(one.checklist, one.begun_by, one.begun_at, len(one.kept))
            for one in asked.known.begun
            if one.machine == view.machine and one.begun_at <= utc_from_epoch_s(asked.moment.at_s)
        ],
        absorbent_h=hours[0].used if hours else None,
        absorbent_limit_h=hours[0].limit if hours else None,
        vaporizers=[
            VaporizerLine(one.vaporizer, one.agent, agent_left(asked, one))
            for one in asked.vaporizers.values()
            if one.machine == view.machine
        ],
        cylinder=asked.known.cylinder(view.machine),
    )
