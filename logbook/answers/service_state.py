"""Whether a unit is out of service."""

from sqlalchemy import Connection

from logbook.answers import statements
from logbook.answers.facts import OpenFault
from logbook.times import utc_from_epoch_s


def open_faults(connection: Connection, unit: str, at_s: int) -> list[OpenFault]:
    """The stopping faults of a unit that no return to service has ended, oldest first."""
    rows = connection.execute(statements.open_faults(), {"units": [unit], "at_s": at_s})
    return [
        OpenFault(row.entry, row.unit, row.what, row.detail, utc_from_epoch_s(row.at_s))
        for row in rows
    ]
