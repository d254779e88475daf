"""Plans of service, and the evidence that puts a unit back in service."""

from datetime import UTC
from typing import TYPE_CHECKING

from sqlalchemy import literal, select

from logbook.errors import InputError
from logbook.projections import tables
from logbook.projections.lookup import FOREVER_S, OUTPUT_VERIFICATION, clinic_zone, evidence_s
from logbook.recording.refusals.claim import Claim

if TYPE_CHECKING:
    from logbook.entries.fault import ReturnToService
    from logbook.entries.service import ServicePlan


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
        fault.c.unit == body.unit, fault.c.stops.is_(True), fault.c.at_s <= claim.at_s
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
