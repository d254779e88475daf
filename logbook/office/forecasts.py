"""Keeping forecasts as they were given out, so that what came can be held against them."""

from collections.abc import Sequence

from sqlalchemy import insert, select

from logbook.answers.forecast import Forecast
from logbook.answers.moment import moment_at
from logbook.ledger.schema import forecast_issued
from logbook.ledger.store import head
from logbook.office.office import Opened
from logbook.units import format_decimal


def keep_issued(opened: Opened, found: Sequence[Forecast]) -> None:
    """Keep forecasts of today beside the chain; the first of a day stands."""
    moment = moment_at(opened.now, opened.zone)
    entries, last = head(opened.connection)
    table = forecast_issued.c
    query = select(table.unit, table.item, table.clock).where(table.issued_on == str(moment.day))
    kept = {tuple(row) for row in opened.connection.execute(query)}
    rows = [
        {
            "issued_on": str(moment.day),
            "issued_s": moment.at_s,
            "head": last,
            "entries": entries,
            **{name: _as_kept(one, name) for name in _TOLD},
        }
        for one in found
        if one.enough and (one.unit, one.item, one.clock) not in kept
    ]
    if rows:
        opened.connection.execute(insert(forecast_issued), rows)


_TOLD = (
    "unit", "item", "clock", "left", "measure", "weeks", "early", "likely", "late", "mean_on"
)  # fmt: skip


def _as_kept(one: Forecast, name: str) -> str | int | None:
    value = getattr(one, name)
    if name == "left":
        return format_decimal(value, 6)
    return value if value is None or name == "weeks" else str(value)
