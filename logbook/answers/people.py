"""Who signs entries."""

from dataclasses import dataclass

from sqlalchemy import Connection, select

from logbook.ledger.schema import person
from logbook.projections.tables import staff


@dataclass(frozen=True, slots=True)
class Person:
    """Initials, and the name beside them unless it was taken out."""

    initials: str
    name: str | None


def people(connection: Connection) -> list[Person]:
    """Everybody who may sign, by initials."""
    joined = staff.outerjoin(person, person.c.initials == staff.c.initials)
    query = select(staff.c.initials, person.c.name).select_from(joined)
    return [Person(*row) for row in connection.execute(query.order_by(staff.c.initials))]
