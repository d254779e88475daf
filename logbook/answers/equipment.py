"""The machines and the vaporizers, and how long each ran."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal
from typing import TypeVar

from sqlalchemy import Connection

from logbook.answers.agent import AgentLeft, agent_left
from logbook.answers.drift import Compared, agent_compared
from logbook.answers.facts import OpenFault
from logbook.answers.item import ask_in
from logbook.answers.known import Known
from logbook.answers.moment import Moment
from logbook.answers.register import Register
from logbook.answers.spans import Ran
from logbook.checklists.profile import Profile
from logbook.errors import NotKnown
from logbook.projections.lookup import machine_views, vaporizer_views
from logbook.units import shown
from logbook.value import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineLine(Profile):
    """A machine: what it is, what stands on it, seconds run in all, what keeps it from use."""

    machine: str
    vaporizers: list[str]
    ran_s: int
    retired_on: date | None
    out_of_service: list[OpenFault]


class VaporizerLine(Value):
    """A vaporizer: what it is, where it stands, seconds run in all, what is probably left."""

    vaporizer: str
    agent: str
    serial: str | None
    capacity_ml: Decimal | None
    low_mark_ml: Decimal | None
    design: str
    machine: str | None
    ran_s: int
    left: AgentLeft
    compared: list[Compared]
    out_of_service: list[OpenFault]


Line = TypeVar("Line", MachineLine, VaporizerLine)


def machine_lines(connection: Connection, moment: Moment) -> list[MachineLine]:
    """Every machine by tag, those retired too."""
    register = Register(connection)
    vaporizers = register.vaporizers(moment.at_s).values()
    views = register.machines(moment.at_s)
    known = Known(register, moment, views, {})
    return [
        MachineLine(
            **{one.name: getattr(view, one.name) for one in fields(Profile)},
            machine=tag,
            vaporizers=[one.vaporizer for one in vaporizers if one.machine == tag],
            ran_s=known.in_all.get(tag, Ran()).ran_s,
            retired_on=None if view.retired_s is None else moment.day_of(view.retired_s),
            out_of_service=known.faults.get(tag, []),
        )
        for tag, view in views.items()
    ]


def vaporizer_lines(connection: Connection, moment: Moment) -> list[VaporizerLine]:
    """Every vaporizer by tag."""
    register = Register(connection)
    asked = ask_in(register, moment)
    known = Known(register, moment, {}, asked.vaporizers)
    return [
        VaporizerLine(
            vaporizer=tag,
            agent=view.agent,
            serial=view.serial,
            capacity_ml=view.capacity_ml,
            low_mark_ml=view.low_mark_ml,
            design=view.design,
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


def known_vaporizer(connection: Connection, tag: str) -> None:
    """Refuse the tag of no vaporizer."""
    known = vaporizer_views(connection, 0)
    if tag not in known:
        raise NotKnown("vaporizer", shown(tag), known)


def known_unit(connection: Connection, tag: str) -> None:
    """Refuse the tag of no machine and no vaporizer."""
    known = [*machine_views(connection, 0), *vaporizer_views(connection, 0)]
    if tag not in known:
        raise NotKnown("unit", shown(tag), known)
