"""Machines and vaporizers: that they are there, under tags of their own, and where they stand."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from logbook.errors import InputError, NotKnown
from logbook.projections import tables
from logbook.projections.lookup import (
    FOREVER_S,
    cases_between,
    machine_views,
    position,
    positions,
    running_case,
    vaporizer_views,
)
from logbook.recording.refusals.claim import Claim, local_text
from logbook.times import utc_from_epoch_s
from logbook.units import shown

if TYPE_CHECKING:
    from logbook.entries.base import Body
    from logbook.entries.machine import Machine, MachineRetirement
    from logbook.entries.supplies import CylinderChange, OxygenReading
    from logbook.entries.vaporizer import Vaporizer, VaporizerRemoval

BRINGS_ITS_UNIT = frozenset({"machine", "vaporizer"})
"""The kinds that name a unit which is not there before them."""


def refuse_names(
    connection: Connection, names: Mapping[str, str], at_s: int, *, in_use: bool = True
) -> None:
    """Refuse a machine, vaporizer or unit that is not there, or not ``in_use`` at ``at_s``.

    Raises:
        NotKnown: it names the tag, and those that are known.
        InputError: the machine was retired by then.
    """
    if not names:
        return
    machines = machine_views(connection, FOREVER_S)
    vaporizers = vaporizer_views(connection, FOREVER_S) if names.keys() != {"machine"} else {}
    known = {"machine": [*machines], "vaporizer": [*vaporizers], "unit": [*machines, *vaporizers]}
    for field, tag in names.items():
        if tag not in known[field]:
            raise NotKnown(field, shown(tag), sorted(known[field]))
        retired_s = machines[tag].retired_s if tag in machines else None
        if in_use and retired_s is not None and at_s >= retired_s:
            when = local_text(connection, utc_from_epoch_s(retired_s))
            raise InputError(
                f"machine {tag} was retired on {when}", "give an earlier time or another machine"
            )


def cylinder(claim: "Claim[OxygenReading | CylinderChange]") -> None:
    """The machine has a cylinder of that number, as far as its profile tells; one if nothing."""
    number, tag = claim.body.number or 1, claim.body.machine
    told = machine_views(claim.connection, claim.at_s)[tag].cylinders
    count = 1 if told is None else len(told)
    if number > max(count, 1):
        raise InputError(
            f"cylinder {number} of {tag} is not told; its profile has {count}",
            "tell its cylinders in the machine's profile first",
        )


def machine(claim: "Claim[Machine]") -> None:
    """Its tag is free."""
    _refuse_tag(claim, claim.body.machine)


def vaporizer(claim: "Claim[Vaporizer]") -> None:
    """Its tag is free."""
    _refuse_tag(claim, claim.body.vaporizer)


def _refuse_tag(claim: "Claim[Body]", tag: str) -> None:
    for table, column in ((tables.machine, "machine"), (tables.vaporizer, "vaporizer")):
        query = select(table.c.entry).where(table.c[column] == tag)
        entry = claim.connection.execute(query.order_by(table.c.entry)).scalar()
        if entry is not None and entry != claim.own:
            raise InputError(f"the tag {tag} is taken by entry {entry}", "choose another tag")


def retirement(claim: "Claim[MachineRetirement]") -> None:
    """A machine is retired once, and never under a case."""
    tag = claim.body.machine
    retired = select(tables.machine.c.entry).where(
        tables.machine.c.machine == tag,
        tables.machine.c.event == "retired",
        tables.machine.c.entry != claim.own,
    )
    again = claim.connection.execute(retired).scalar()
    if again is not None:
        raise InputError(f"{tag} is retired by entry {again}", "correct that entry instead")
    running = running_case(claim.connection, tag)
    if running:
        raise InputError(f"case {running.entry} still runs on {tag}", "end it first")
    clash = claim.connection.execute(cases_between(tag, claim.at_s, FOREVER_S)).first()
    if clash is not None:
        raise InputError(f"case {clash.entry} ran on {tag} after that", "give a later time")


def removal(claim: "Claim[VaporizerRemoval]") -> None:
    """Only a vaporizer that stands on a machine is taken off."""
    tag = claim.body.vaporizer
    stays = positions(claim.connection).get(tag, [])
    if position(stays, claim.at_s) is None:
        raise InputError(f"{tag} stood on no machine at that time", "check the time")
