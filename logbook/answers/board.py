"""All machines at a glance: today's check, faults, absorbent, agent, what is due."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from sqlalchemy import Connection, select

from logbook.answers.agent import AgentLeft, agent_left
from logbook.answers.cases import units_on
from logbook.answers.due import ask, due_items, worst_first
from logbook.answers.item import Asked, DueItem
from logbook.answers.moment import Moment
from logbook.answers.service_state import CheckDone, OpenFault, check_today, open_faults
from logbook.projections.lookup import MachineView, running_case
from logbook.projections.tables import oxygen
from logbook.times import utc_from_epoch_s


@dataclass(frozen=True, slots=True)
class VaporizerLine:
    """A vaporizer on a machine and the agent that is probably left in it."""

    vaporizer: str
    agent: str
    left: AgentLeft


@dataclass(frozen=True, slots=True)
class BoardLine:
    """A machine as it stands at the moment; ``pressing`` are the items that count as due."""

    machine: str
    location: str | None
    check: CheckDone | None
    faults: list[OpenFault]
    running_since: datetime | None
    absorbent: list[DueItem]
    vaporizers: list[VaporizerLine]
    cylinder_psi: Decimal | None
    cylinder_read_at: datetime | None
    pressing: list[DueItem]


def board(connection: Connection, moment: Moment) -> list[BoardLine]:
    """One line for each machine in use, by tag."""
    asked = ask(connection, moment)
    items = worst_first(due_items(asked))
    return [_line(asked, view, items) for view in asked.machines.values()]


def _line(asked: Asked, view: MachineView, items: list[DueItem]) -> BoardLine:
    tag, connection, at_s = view.machine, asked.connection, asked.moment.at_s
    own = [item for item in items if item.machine == tag]
    case = running_case(connection, tag)
    gauge = _last_gauge(asked, tag)
    return BoardLine(
        machine=tag,
        location=view.location,
        check=check_today(connection, tag, asked.moment),
        faults=[f for unit in units_on(asked, tag) for f in open_faults(connection, unit, at_s)],
        running_since=utc_from_epoch_s(case.began_s) if case and case.began_s <= at_s else None,
        absorbent=[item for item in own if item.item == "absorbent"],
        vaporizers=[
            VaporizerLine(one.vaporizer, one.agent, agent_left(asked, one))
            for one in asked.vaporizers.values()
            if one.machine == tag
        ],
        cylinder_psi=gauge[0] if gauge else None,
        cylinder_read_at=gauge[1] if gauge else None,
        pressing=[item for item in own if item.standing not in ("ok", "due soon")],
    )


def _last_gauge(asked: Asked, machine: str) -> tuple[Decimal, datetime] | None:
    query = select(oxygen).where(
        oxygen.c.machine == machine,
        oxygen.c.cylinder_psi.is_not(None),
        oxygen.c.at_s <= asked.moment.at_s,
    )
    row = asked.connection.execute(query.order_by(oxygen.c.at_s.desc()).limit(1)).first()
    return (row.cylinder_psi, utc_from_epoch_s(row.at_s)) if row else None
