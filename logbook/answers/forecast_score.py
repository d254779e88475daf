"""How well the forecasts that were given out did, by what was used since."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation

from sqlalchemy import Connection, Row, select

from logbook.answers.forecast import Supply, used_by_day, uses_of
from logbook.answers.item import Asked, Clock, Measure, Place
from logbook.answers.spans import CaseUse
from logbook.arithmetic.forecast import Quantiles
from logbook.arithmetic.score import Scored, Scores, scores
from logbook.ledger.schema import forecast_issued


@dataclass(frozen=True, slots=True)
class ForecastScore:
    """How many forecasts were ``issued``, of how many it is known what came, and how these did;
    ``scores`` is None where nothing came yet.

    What came is the day on which as much was used as had been left, whether it was changed before
    or not. A forecast of grams follows that of hours and is not counted again.
    """

    issued: int
    known: int
    scores: Scores | None


@dataclass(frozen=True, slots=True)
class _Issued:
    """A forecast as it was given out: of how much, when, and the days that it told."""

    supply: Supply
    at_s: int
    on: date
    early: date | None
    likely: date | None
    late: date | None
    mean: date | None


def forecast_score(connection: Connection, asked: Asked) -> ForecastScore:
    """The score of all forecasts that were issued up to the moment.

    No chain holds their table, so that another program can write anything there: what cannot have
    been given out by this one is not there.
    """
    query = select(forecast_issued).where(forecast_issued.c.issued_s <= asked.moment.at_s)
    read = (_issued(asked, row) for row in connection.execute(query))
    issued = [one for one in read if one is not None and one.supply.clock is not Clock.WEIGHT]
    first_s = min((one.at_s for one in issued), default=0)
    cases = uses_of(connection, asked, {one.supply.place.unit for one in issued}, first_s)
    found = [
        scored
        for one in issued
        for scored in _scored(asked, one, cases.get(one.supply.place.unit, []))
    ]
    return ForecastScore(len(issued), len(found), scores(found))


def _issued(asked: Asked, row: Row[tuple[object, ...]]) -> _Issued | None:
    machine = asked.vaporizers[row.unit].machine if row.unit in asked.vaporizers else row.unit
    days = (row.issued_on, row.early, row.likely, row.late, row.mean_on)
    try:
        left = Decimal(row.left)
        supply = Supply(
            Place(machine, row.unit, row.item), Clock(row.clock), Measure(row.measure), left
        )
        on, *told = (None if day is None else date.fromisoformat(day) for day in days)
    except (ValueError, InvalidOperation):
        return None
    if on is None or not left.is_finite():
        return None
    return _Issued(supply, row.issued_s, on, *told)


def _scored(asked: Asked, issued: _Issued, cases: list[CaseUse]) -> Iterator[Scored]:
    """What came of one forecast, where it came."""
    since = [one for one in cases if one.began_s > issued.at_s]
    days = used_by_day(asked.moment, asked.rules, issued.supply, since)
    came = _came(days, float(issued.supply.left))
    if came is not None and issued.early is not None:
        early, likely, late, mean = (
            None if day is None else (day - issued.on).days
            for day in (issued.early, issued.likely, issued.late, issued.mean)
        )
        yield Scored(Quantiles(early, likely, late), mean, (came - issued.on).days)


def _came(days: dict[date, float], left: float) -> date | None:
    for day in sorted(days):
        left -= days[day]
        if left <= 0:
            return day
    return None
