"""The clinic that keeps the ledger."""

from sqlalchemy import Connection

from logbook.projections.lookup import ClinicView, clinic_view

__all__ = ["ClinicView", "clinic"]


def clinic(connection: Connection) -> ClinicView:
    """The clinic as it stands."""
    return clinic_view(connection)
