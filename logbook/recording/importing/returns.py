"""What a row of a return to service leaves to the ledger: which entry is its evidence."""

from sqlalchemy import Connection, func, literal, select, true

from logbook.entries.fault import ReturnToService
from logbook.errors import InputError
from logbook.projections.lookup import evidence_s
from logbook.projections.tables import fault, mention, service
from logbook.recording.importing.values import Content, Values
from logbook.recording.refusals.claim import local_text
from logbook.times import epoch_s


def returned(told: Values, connection: Connection) -> Content:
    """The return of a unit, on the first passed check or service after its last fault; where the
    row names a certificate, on the service that it is of.

    The first is found again at a second import, also where more was recorded since.

    Raises:
        InputError: nothing that was recorded between the two shows that the unit may be used.
    """
    unit, at, certificate = told["unit"], told["at"], told.get("certificate")
    at_s = epoch_s(at)
    out_s = connection.execute(
        select(func.max(fault.c.at_s)).where(
            fault.c.unit == unit, fault.c.stops.is_(true()), fault.c.at_s <= at_s
        )
    ).scalar()
    seen_s = evidence_s(literal(unit), mention.c.entry)
    query = (
        select(mention.c.entry)
        .where(mention.c.name == unit, seen_s.between(out_s or 0, at_s))
        .order_by(seen_s, mention.c.entry)
        .limit(1)
    )
    if certificate:
        of_certificate = service.alias()
        query = query.where(
            mention.c.entry.in_(
                select(of_certificate.c.entry).where(of_certificate.c.certificate == certificate)
            )
        )
    evidence = connection.execute(query).scalar()
    if evidence is None:
        when = local_text(connection, at)
        of = f" with the certificate {certificate}" if certificate else ""
        raise InputError(
            f"no passed check or service{of} after the last fault shows by {when} that {unit} may "
            "be used",
            "import faults, services and checks first",
        )
    return ReturnToService.of(unit=unit, evidence_entry=evidence, remark=told.get("remark")), at
