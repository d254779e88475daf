"""What was known at an earlier moment: the ledger replayed from the entries recorded by then."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime

from logbook.errors import InputError
from logbook.ledger.earlier import recorded_by
from logbook.ledger.store import last_recorded
from logbook.office.office import Opened
from logbook.projections.lookup import clinic_view
from logbook.projections.project import rebuild
from logbook.times import local_text


@contextmanager
def as_known(opened: Opened, at: datetime) -> Iterator[Opened]:
    """The same act in the ledger as it was known at an instant, to ask in and not to write.

    Entries count by when they were recorded, so that a correction, a rule or a late entry counts
    from then on, whatever time it tells. It takes as long as a rebuild.

    Raises:
        InputError: nothing was recorded by then.
    """
    with recorded_by(opened.connection, at) as connection:
        if last_recorded(connection) is None:
            told = local_text(at, opened.zone)
            raise InputError(f"nothing was recorded by {told}", "ask for a later day")
        rebuild(connection)
        yield replace(opened, connection=connection, clinic=clinic_view(connection))
