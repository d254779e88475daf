"""The machines and the vaporizers, and how long each ran."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TypeVar

from sqlalchemy import Connection

from logbook.answers.agent import AgentLeft, agent_left
from logbook.answers.drift import Compared, agent_compared
from logbook.answers.facts import OpenFault
from logbook.answers.item import ask
from logbook.answers.known import Known
from logbook.answers.moment import Moment
from logbook.answers.spans import Ran
from logbook.errors import NotKnown
from logbook.projections.lookup import machine_views, vaporizer_views
from logbook.units import shown


@dataclass(frozen=True, slots=True)
class MachineLine:
    """A machine: what it is, what stands on it, seconds run in all, what keeps it from use."""

    machine: str
    serial: str | None
    location: str | None
    absorbent_g: Decimal | None
    scavenging: str | None
    flowmeter_max_ml_min: Decimal | None
    vaporizers: list[str]
    ran_s: int
    retired_on: date | None
    out_of_service: list[OpenFault]


@dataclass(frozen=True, slots=True)
class VaporizerLine:
    """A vaporizer: what it is, where it stands, seconds run in all, what is probably left."""

    vaporizer: str
    agent: str
    serial: str | None
    capacity_ml: Decimal | None
    low_mark_ml: Decimal | None
    machine: str | None
    ran_s: int
    left: AgentLeft
    compared: list[Compared]
    out_of_service: list[OpenFault]


Line = TypeVar("Line", MachineLine, VaporizerLine)


def machine_lines(connection: Connection, moment: Moment) -> list[MachineLine]:
    """Every machine by tag, those retired too."""
    vaporizers = vaporizer_views(connection, moment.at_s).values()
    views = machine_views(connection, moment.at_s)
    known = Known(connection, moment, views, {}, {})
    return [
        MachineLine(
            machine=tag,
            serial=view.serial,
            location=view.location,
            absorbent_g=view.absorbent_g,
            scavenging=view.scavenging,
            flowmeter_max_ml_min=view.flowmeter_max_ml_min,
            vaporizers=[one.vaporizer for one in vaporizers if one.machine == tag],
            ran_s=known.in_all.get(tag, Ran()).ran_s,
            retired_on=None if view.retired_s is None else moment.day_of(view.retired_s),
            out_of_service=known.faults.get(tag, []),
        )
        for tag, view in views.items()
    ]


def vaporizer_lines(connection: Connection, moment: Moment) -> list[VaporizerLine]:
    """Every vaporizer by tag."""
    asked = ask(connection, moment)
    known = Known(connection, moment, {}, asked.vaporizers, asked.stays)
    return [
        VaporizerLine(
            vaporizer=tag,
            agent=view.agent,
            serial=view.serial,
            capacity_ml=view.capacity_ml,
            low_mark_ml=view.low_mark_ml,
            machine=view.machine,
            ran_s=known.in_all.get(tag, Ran()).ran_s,
            left=agent_left(asked, view),
            compared=agent_compared(asked, view),
            out_of_service=known.faults.get(tag, []),
        )
        for tag, view in asked.vaporizers.items()
    ]


def only(lines: Sequence[Line], noun: str, tag: str) -> Line:
    """The one line of a tag.

    Raises:
        NotKnown: there is no such unit; the sentence names those that there are.
    """
    for line in lines:
        if getattr(line, noun) == tag:
            return line
    raise NotKnown(noun, shown(tag), [getattr(line, noun) for line in lines])


def known_machine(connection: Connection, tag: str) -> None:
    """Refuse the tag of no machine."""
    known = machine_views(connection, 0)
    if tag not in known:
        raise NotKnown("machine", shown(tag), known)


def known_unit(connection: Connection, tag: str) -> None:
    """Refuse the tag of no machine and no vaporizer."""
    known = [*machine_views(connection, 0), *vaporizer_views(connection, 0)]
    if tag not in known:
        raise NotKnown("unit", shown(tag), known)
