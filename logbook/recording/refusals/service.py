"""Plans of service, and the evidence that puts a unit back in service."""

from datetime import UTC
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from sqlalchemy import literal, select, true

from logbook.errors import Act, InputError, NotKnown
from logbook.projections import tables
from logbook.projections.lookup import (
    EXPECTED,
    FOREVER_S,
    OUTPUT_VERIFICATION,
    clinic_zone,
    evidence_s,
)
from logbook.recording.refusals.claim import Claim
from logbook.units import shown

if TYPE_CHECKING:
    from logbook.entries.fault import FaultClose, ReturnToService
    from logbook.entries.service import Service, ServicePlan

NEAR = 0.8
"""How alike two items must be for one to be a slip for the other; our own choice: ``output
verifcation`` is, ``annual service`` and ``service`` are not."""
VERIFIED_BY = frozenset({"calibrated", "calibration", "certification", "output", "verification"})
"""Words for the output verification of a vaporizer; from memory."""


def plan(claim: "Claim[ServicePlan]") -> None:
    """A rhythm that comes round, and a last time that has been."""
    from logbook.arithmetic.calendar import next_due

    body = claim.body
    if body.every is not None:
        # Working a date out finds what reading alone cannot: a rule that never comes round.
        next_due(body.every, body.last or claim.at.astimezone(UTC).date())
    today = claim.at.astimezone(clinic_zone(claim.connection)).date()
    if body.last is not None and body.last > today:
        raise InputError(f"the last service on {body.last} lies in the future", "give a past day")


def done(claim: "Claim[Service]") -> None:
    """Its item is none that only looks like one that counts: the unit would stay due in silence.

    What stands already keeps its item, whatever else of it is corrected.
    """
    body = claim.body
    vaporizers = select(tables.vaporizer.c.entry).where(tables.vaporizer.c.vaporizer == body.unit)
    held = claim.connection.execute(vaporizers).first() is not None
    planned = select(tables.service_plan.c.item).where(tables.service_plan.c.unit == body.unit)
    counts = [
        EXPECTED["vaporizer" if held else "machine"], *claim.connection.execute(planned).scalars()
    ]  # fmt: skip
    if claim.own is not None or body.item in counts:
        return
    meant = _meant(body.item, counts)
    if meant is not None:
        raise InputError(
            f"{shown(body.item)} is no item that counts for {body.unit}; did you mean "
            f'"{meant}"? If it is another one, plan it first'
        )


def _meant(item: str, counts: list[str]) -> str | None:
    """The item that counts and was probably meant: it holds all that was typed, or is spelt nearly
    the same, or is the output verification by another word for it."""
    words = set(item.lower().replace("-", " ").split())
    for one in counts:
        alike = SequenceMatcher(None, item.lower(), one.lower()).ratio() >= NEAR
        other_word = one == OUTPUT_VERIFICATION and words & VERIFIED_BY
        if (words and words <= set(one.lower().split())) or alike or other_word:
            return one
    return None


def fault_close(claim: "Claim[FaultClose]") -> None:
    """What is closed is an open fault of the unit that does not keep it from use."""
    body, fault, close = claim.body, tables.fault, tables.fault_close
    found = select(fault).where(fault.c.entry == body.fault_entry, fault.c.unit == body.unit)
    row = claim.connection.execute(found).first()
    if row is None:
        raise NotKnown("fault", str(body.fault_entry), act=Act.LIST_FAULTS)
    if row.stops:
        raise InputError(
            f"the fault of entry {row.entry} keeps {row.unit} from use, which ends by evidence",
            act=Act.RETURN_ON, about=row.unit,
        )  # fmt: skip
    if row.at_s > claim.at_s:
        raise InputError(
            f"the fault of entry {row.entry} came later, {claim.local(row.at_s)}",
            "give a time after it",
        )
    closed = select(close.c.entry).where(close.c.fault_entry == row.entry)
    by = claim.connection.execute(closed).scalar()
    if by is not None and by != claim.own:
        raise InputError(f"the fault of entry {row.entry} is closed by entry {by}", "name another")


def return_to_service(claim: "Claim[ReturnToService]") -> None:
    """Only a passed check or service on the same unit, after the last fault, is evidence."""
    body = claim.body
    seen_s = claim.connection.execute(
        select(evidence_s(literal(body.unit), literal(body.evidence_entry)))
    ).scalar()
    if seen_s is None:
        raise InputError(
            f"entry {body.evidence_entry} is no passed check or service that clears {body.unit} "
            f"(of a vaporizer: {OUTPUT_VERIFICATION})",
            "record one, then name its number",
        )
    fault = tables.fault
    stopping = select(fault).where(
        fault.c.unit == body.unit, fault.c.stops.is_(true()), fault.c.at_s <= claim.at_s
    )
    newest_first = stopping.order_by(fault.c.at_s.desc(), fault.c.entry.desc())
    last = claim.connection.execute(newest_first.limit(1)).first()
    if last is None:
        return
    evidence = (seen_s, body.evidence_entry)
    if not (last.at_s, last.entry) < evidence <= (claim.at_s, FOREVER_S):
        raise InputError(
            f"entry {body.evidence_entry} is not between the fault of {claim.local(last.at_s)} "
            f"(entry {last.entry}) and the return",
            "name a check or service done after the fault",
        )
