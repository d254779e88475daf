"""Oxygen on a machine: what its cylinders hold by what was recorded of them, and what a cylinder
that starts the day must show."""

from dataclasses import dataclass, replace
from decimal import Decimal

from sqlalchemy import Connection

from logbook.answers.facts import OnMachine
from logbook.answers.item import Asked, ask_about
from logbook.answers.moment import Moment
from logbook.answers.planning import in_use
from logbook.answers.rules import Values
from logbook.answers.spans import Use
from logbook.arithmetic.constants import OXYGEN_RESERVE_PSI
from logbook.arithmetic.oxygen import contents_l, least_gauge_psi
from logbook.errors import InputError


@dataclass(frozen=True, slots=True)
class OxygenLeft:
    """What the cylinders of a machine hold above the reserve of each.

    ``usable_l`` is None where of no cylinder both gauge and size are known; ``used_l`` is what
    cases took since the gauges were read, and is taken off already, ``untold_cases`` how many told
    no flow.
    """

    cylinders: list[OnMachine]
    reserve_psi: Decimal
    usable_l: Decimal | None
    used_l: Decimal
    untold_cases: int


def cylinders_on(asked: Asked, machine: str) -> list[OnMachine]:
    """The cylinders of a machine, as they were read by the clinic's time."""
    zone = asked.moment.zone
    return [
        replace(one, gauge=one.gauge and replace(one.gauge, at=one.gauge.at.astimezone(zone)))
        for one in asked.known.cylinders(machine)
    ]


def oxygen_left(asked: Asked, machine: str, reserve_psi: Decimal) -> OxygenLeft:
    """What is left on a machine above a reserve in psi; of a machine on a pipeline its cylinders
    gave nothing since they were read."""
    cylinders = cylinders_on(asked, machine)
    held_l, uses = [], []
    for one in cylinders:
        if one.gauge is not None and one.size is not None:
            held_l.append(contents_l(one.size, one.gauge.psi, reserve_psi))
            uses.append(asked.known.used.get((machine, one.number), Use()))
    used_l = sum((use.oxygen_l for use in uses), Decimal(0))
    usable_l = max(sum(held_l, Decimal(0)) - used_l, Decimal(0)) if held_l else None
    untold = sum(use.untold_cases for use in uses)
    return OxygenLeft(cylinders, reserve_psi, usable_l, used_l, untold)


def oxygen_left_on(
    connection: Connection, moment: Moment, machine: str, reserve_psi: Decimal | None
) -> tuple[OxygenLeft, Decimal]:
    """What is left on a machine at a moment, and in litres what of it can be used.

    Raises:
        InputError: there is no such machine in use, or no gauge or size is recorded of it.
    """
    asked = ask_about(connection, moment, machine)
    in_use(connection, asked, machine)
    kept_psi = OXYGEN_RESERVE_PSI.value if reserve_psi is None else reserve_psi
    left = oxygen_left(asked, machine, kept_psi)
    if not any(one.gauge for one in left.cylinders):
        raise InputError(f"no cylinder gauge of {machine} is recorded", "read it first")
    if left.usable_l is None:
        raise InputError(
            f"the size of {machine}'s cylinder is not recorded", "tell it in the machine's profile"
        )
    return left, left.usable_l


def check_limits(asked: Asked, machine: str) -> Values:
    """The limits that judge a check of a machine: its first cylinder by its own size."""
    values, starts = asked.rules.for_machine(machine), cylinder_starts(asked, machine)
    return values | {"cylinder-start": starts[1]} if starts else values


def cylinder_starts(asked: Asked, machine: str) -> dict[int, Decimal]:
    """What each cylinder of a machine must show to start the day, in psi by its number: by the
    minutes that it gives at the usual flow, where its size is known."""
    values = asked.rules.for_machine(machine)
    minutes = values["cylinder-start-minutes"]
    starts = {}
    for one in asked.known.cylinders(machine):
        starts[one.number] = values["cylinder-start"]
        if one.size is not None and minutes:
            least_psi = least_gauge_psi(
                one.size, minutes, values["usual-flow"], values["cylinder-low"]
            )
            # One that is too small for it ever to last so long starts the day half full.
            starts[one.number] = starts[one.number] if least_psi is None else least_psi
    return starts
