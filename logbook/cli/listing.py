"""Making the sheets that more than one command shows."""

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from logbook.answers.moment import Moment
    from logbook.office.office import Opened
    from logbook.sheets.week import WeekSheet


def week_of(
    book: "Opened", moment: "Moment", closed: tuple[str, ...] = ()
) -> "Callable[[], WeekSheet]":
    """What makes the week's list as it stands at a moment, once the ledger is closed; nobody works
    on the days ``closed``."""
    from logbook.answers.ordering import read_with_orders
    from logbook.cli.forecast import closed_days
    from logbook.proof.checkpoint import checkpoint
    from logbook.sheets.week import WeekSheet

    mark = checkpoint(book.connection, book.now)
    days = closed_days(book, closed)
    read = read_with_orders(book.connection, moment, mark.head, days)
    return lambda: WeekSheet.of(*read.told(), moment.zone, mark)
