"""What follows from a service, a fault, and where a vaporizer stands."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from logbook.answers.consequence import (
    Consequence,
    LeakTestFirst,
    NotCorrected,
    NotToBeUsed,
    OutputDrifts,
    Stands,
    StaysInService,
    WorstOutput,
)
from logbook.answers.consequences.after import After, still_out
from logbook.answers.outputs import output_history
from logbook.answers.service import service_items
from logbook.answers.service_state import open_faults
from logbook.arithmetic.vaporizer import VARIABLE_BYPASS
from logbook.projections.lookup import OUTPUT_VERIFICATION

if TYPE_CHECKING:
    from logbook.entries.base import Body
    from logbook.entries.fault import Fault
    from logbook.entries.service import OutputVerification, Service, ServicePlan
    from logbook.entries.vaporizer import VaporizerFitting, VaporizerRemoval


def plan(after: "After[ServicePlan]") -> Iterator[Consequence]:
    """How the planned item stands now."""
    yield from _planned(after, after.body.unit, after.body.item)


def _planned(after: "After[Body]", unit: str, what: str) -> Iterator[Consequence]:
    for item in service_items(after.ask()):
        if (item.unit, item.item) == (unit, what):
            yield Stands(item)


def service(after: "After[Service]") -> Iterator[Consequence]:
    """Whether the unit is still out of service, and how the item stands."""
    yield from still_out(after, after.body.unit)
    yield from _planned(after, after.body.unit, after.body.item)


def output_verification(after: "After[OutputVerification]") -> Iterator[Consequence]:
    """How far the output was off, whether it drifts, and how its clock stands."""
    body = after.body
    history = output_history(after.connection, after.moment, body.vaporizer)
    mine = [one.worst for one in history.verifications if one.entry == after.entry.seq]
    for worst in mine:
        yield WorstOutput(worst)
    failed = body.outcome == "failed"
    yield from still_out(after, body.vaporizer, until_cleared=failed)
    if body.ambient_kpa is None and body.design == VARIABLE_BYPASS:
        yield NotCorrected()
    if history.leaves_first is not None:
        yield OutputDrifts(history.leaves_first)
    yield from _planned(after, body.vaporizer, OUTPUT_VERIFICATION)


def fault(after: "After[Fault]") -> Iterator[Consequence]:
    """Whether the unit is out of service, and what brings it back."""
    unit = after.body.unit
    if not after.body.stops:
        yield StaysInService(unit)
        return
    yield from still_out(after, unit, until_cleared=True)


def fitting(after: "After[VaporizerFitting]") -> Iterator[Consequence]:
    """A leak test first, here and where it stood; or that it is not to be used."""
    body = after.body
    faults = open_faults(after.connection, body.vaporizer, after.entry.at_s)
    for one in faults:
        yield NotToBeUsed(one)
    if not faults:
        yield LeakTestFirst(body.machine, body.vaporizer)
    yield from _left_open(after, body.vaporizer, to=body.machine)


def removal(after: "After[VaporizerRemoval]") -> Iterator[Consequence]:
    """A leak test where it stood."""
    yield from _left_open(after, after.body.vaporizer, to=None)


def _left_open(after: After[Any], vaporizer: str, to: str | None) -> Iterator[Consequence]:
    """The machine on which a vaporizer stood before, which was opened, too."""
    stays = after.register.stays.get(vaporizer, [])
    own = [n for n, stay in enumerate(stays) if stay == (after.entry.at_s, to)]
    stood = stays[own[-1] - 1][1] if own and own[-1] else None
    if stood is not None and stood != to:
        yield LeakTestFirst(stood, vaporizer, away=True)
