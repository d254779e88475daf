"""How well forecasts that were issued did, once it is known what came."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

from logbook.arithmetic.constants import DEVIATES_95, EARLY_SHARE, HORIZON_WEEKS, WEEK_DAYS
from logbook.arithmetic.forecast import Quantiles


@dataclass(frozen=True, slots=True)
class Scored:
    """What was forecast, what the plain mean said beside it, and what came, in days."""

    forecast: Quantiles
    mean: int | None
    came: int


@dataclass(frozen=True, slots=True)
class Scores:
    """How many forecasts there were; how many of a hundred came true within the span from early to
    late, with the bounds between which chance alone would put that (95 of 100); how many came
    before the early day; the mean quantile score in days, less being better, of the forecast and
    of the plain mean."""

    count: int
    within_percent: float
    within_from_percent: float
    within_to_percent: float
    before_percent: float
    score_days: float
    mean_score_days: float


def scores(found: Iterable[Scored]) -> Scores | None:
    """The scores of forecasts; None without any."""
    every = list(found)
    count = len(every)
    if not count:
        return None
    within = sum(_day(one.forecast.early) <= one.came <= _day(one.forecast.late) for one in every)
    before = sum(one.came < _day(one.forecast.early) for one in every)
    low, high = interval(within, count)
    return Scores(
        count,
        100 * within / count,
        100 * low,
        100 * high,
        100 * before / count,
        sum(map(_score, every)) / count,
        sum(_mean_score(one) for one in every) / count,
    )


def _day(day: int | None) -> int:
    """What lies beyond the horizon counts as its end."""
    return int(HORIZON_WEEKS.value * WEEK_DAYS.value) if day is None else day


_SHARES = (float(EARLY_SHARE.value), 1 / 2, 1 - float(EARLY_SHARE.value))


def _score(one: Scored) -> float:
    days = (one.forecast.early, one.forecast.likely, one.forecast.late)
    pairs = zip(_SHARES, days, strict=True)
    return sum(_pinball(share, _day(day), one.came) for share, day in pairs) / len(_SHARES)


def _mean_score(one: Scored) -> float:
    day = _day(one.mean)
    return sum(_pinball(share, day, one.came) for share in _SHARES) / len(_SHARES)


def _pinball(share: float, day: int, came: int) -> float:
    """The quantile score of one day (Koenker and Bassett 1978, from memory)."""
    return (share if came >= day else share - 1) * (came - day)


def interval(hits: int, count: int) -> tuple[float, float]:
    """Between which shares chance lies with ``hits`` of ``count``: the binomial interval at 95 of
    100 (Wilson 1927, from memory).

    >>> [round(share, 3) for share in interval(8, 10)]
    [0.49, 0.943]
    """
    deviates = float(DEVIATES_95.value)
    square = deviates**2
    middle = (hits + square / 2) / (count + square)
    varies = hits * (count - hits) / count + (deviates / 2) ** 2
    spread = deviates * sqrt(varies) / (count + square)
    return max(middle - spread, 0.0), min(middle + spread, 1.0)
