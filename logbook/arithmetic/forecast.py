"""When a supply will probably have run out, drawn from the weeks in which it was used before.

Whole weeks of use are drawn again, the recent ones more often, and with them the days of the week
and the days on which nobody worked. A slow walk stands for what no past week shows: that a clinic
grows or quietens. As sharp as the weeks allow, subject to calibration (Gneiting, Balabdaoui and
Raftery, "Probabilistic forecasts, calibration and sharpness", 2007).
"""

from bisect import bisect
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import ceil, e, exp, inf, log
from random import Random
from typing import NamedTuple

from logbook.arithmetic.constants import (
    EARLY_SHARE,
    FORECAST_PATHS,
    HALF_LIFE_WEEKS,
    HISTORY_WEEKS,
    HORIZON_WEEKS,
    WALK_STEP,
    WEEK_DAYS,
)

Week = Sequence[float]
"""What was used on each of seven days, the first of them on the weekday of the first day asked."""
DAYS = int(WEEK_DAYS.value)
_HORIZON = int(HORIZON_WEEKS.value)
_STEP = float(WALK_STEP.value)


@dataclass(frozen=True, slots=True)
class Quantiles:
    """In days after the first one, which is 0: by when it ran out in one of ten draws, in half of
    them, and in nine of ten; None beyond the horizon."""

    early: int | None
    likely: int | None
    late: int | None


def quantiles(
    left: float, weeks: Sequence[Week], seed: str, *, used_today: float = 0.0,
    closed: Collection[int] = (),
) -> Quantiles:  # fmt: skip
    """When ``left`` of a supply will probably be used, by weeks of use, the newest first.

    All in one unit of the supply. ``used_today`` was used on the first day already, and is part of
    what that day takes. On ``closed`` days, counted like the answer, nothing is used. The same seed
    gives the same answer.
    """
    random = Random(seed)  # noqa: S311  A draw of a forecast; nothing is kept secret with it.
    weeks = weeks[: int(HISTORY_WEEKS.value)]
    weights = [Weight.of(2 ** -(age / float(HALF_LIFE_WEEKS.value))) for age in range(len(weeks))]
    use = _Use(left, used_today, frozenset(closed))
    totals = [(week, sum(week)) for week in weeks]
    days = sorted(
        use.drawn(random, bounds_of_draws(random, weights), totals)
        for _ in range(int(FORECAST_PATHS.value))
    )
    share = float(EARLY_SHARE.value)
    return Quantiles(*(_nth(days, part) for part in (share, 1 / 2, 1 - share)))


def mean_days(
    left: float, weeks: Sequence[Week], *, used_today: float = 0.0, closed: Collection[int] = ()
) -> int | None:
    """The same by the plain mean of the weeks for each day: what a person would work out."""
    mean = [sum(week[day] for week in weeks) / len(weeks) for day in range(DAYS)]
    use = _Use(left, used_today, frozenset(closed))
    for number in range(_HORIZON):
        left, day = use.week(left, number, mean)
        if day is not None:
            return day
    return None


def _nth(days: Sequence[float], share: float) -> int | None:
    day = days[ceil(len(days) * share) - 1]
    return None if day == inf else int(day)


class Weight(NamedTuple):
    """A gamma distribution of mean ``shape`` up to 1 and scale 1, and what a draw needs of it."""

    shape: float
    bound: float
    root: float
    power: float

    @classmethod
    def of(cls, shape: float) -> "Weight":
        """That of a shape."""
        return cls(shape, (e + shape) / e, 1.0 / shape, shape - 1.0)


def bounds_of_draws(random: Random, weights: Sequence[Weight]) -> list[float]:
    """A draw of each distribution, as ``random.gammavariate(shape, 1.0)`` draws it, each added to
    those before it.

    By the algorithm GS of Ahrens and Dieter ("Computer methods for sampling from gamma, beta,
    Poisson and binomial distributions", Computing 12, 1974; from memory), as in Python's library,
    which works out anew for each draw what depends on the shape alone: that was half of the time.
    """
    chance, so_far, bounds = random.random, 0.0, []
    for shape, bound, root, power in weights:
        if shape == 1.0:
            so_far -= log(1.0 - chance())
            bounds.append(so_far)
            continue
        while True:
            tried = bound * chance()
            if tried <= 1.0:
                drawn = tried**root
                if chance() <= exp(-drawn):
                    break
            else:
                drawn = -log((bound - tried) / shape)
                if chance() <= drawn**power:
                    break
        so_far += drawn
        bounds.append(so_far)
    return bounds


@dataclass(frozen=True, slots=True)
class _Use:
    """How a supply is used up from the first day on."""

    left: float
    used_today: float
    closed: frozenset[int]

    def drawn(
        self, random: Random, bounds: Sequence[float], weeks: Sequence[tuple[Week, float]]
    ) -> float:
        """The day on which it runs out, infinite beyond the horizon, by weeks that are drawn by
        chance, each with its total; they share a line up to ``bounds``."""
        by_day = {0, *(day // DAYS for day in self.closed)}
        height, room, found, last = 0.0, self.left, inf, len(bounds) - 1
        unused, shut, end = self.left + self.used_today, bool(self.closed), bounds[-1]
        gauss, chance = random.gauss, random.random
        for number in range(_HORIZON):
            height += gauss(0.0, _STEP)
            place = chance() * end
            if shut and found < inf:
                continue
            week, total = weeks[bisect(bounds, place, 0, last)]
            factor = exp(height)
            used = factor * total
            if number in by_day or used >= room:
                room, day = self.week(room, number, [factor * use for use in week])
                found = min(found, inf if day is None else day)
            else:
                room -= used
            # Here the draws of a course end, and where days are closed all weeks are drawn. It is
            # not the day itself, but so it began, and the same question keeps its answer.
            unused -= used
            if unused <= 0 and not shut:
                break
        return found

    def week(self, room: float, number: int, week: Week) -> tuple[float, int | None]:
        """What is left at the end of a week before which so much was left, and the day of the
        whole course on which it runs out, if it does."""
        for offset, use in enumerate(week):
            day = DAYS * number + offset
            if day in self.closed:
                continue
            room -= max(use - self.used_today, 0.0) if day == 0 else use
            if room <= 0:
                return room, day
        return room, None
