"""Forecasts held against made-up clinics of which what came next is known.

Each scenario draws days of use, hands the weeks up to a day to the forecast, and looks on which day
the supply then ran out. Nothing of it is tuned to the forecast: the scenarios are what clinics
tell of themselves.

    .venv/bin/python tests/benchmarks/forecast_suite.py 60
"""

import math
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random

from logbook.arithmetic.forecast import Quantiles, mean_days, quantiles
from logbook.arithmetic.score import Scored, Scores, scores

Rate = Callable[[int, Random], float]
"""How busy a week is, by its number; 0 is the first week after the forecast."""

WORKDAYS = (1.0, 1.1, 1.0, 0.9, 1.0, 0.2, 0.0)
"""Shares of use from Monday on; a little on Saturdays."""
AHEAD = 30
HISTORIES = (6, 12, 26)


def steady(week: int, random: Random) -> float:
    """The same every week."""
    return 1.0


def busy_and_quiet(week: int, random: Random) -> float:
    """Now and then a week of double, or of a third."""
    return random.choice((0.35, 0.8, 1.0, 1.0, 1.2, 2.0))


def growth(week: int, random: Random) -> float:
    """Two in a hundred more each week."""
    return 1.02**week


def step_up(week: int, random: Random) -> float:
    """Half as much again since three weeks ago."""
    return 1.5 if week >= -3 else 1.0


def closed_weeks(week: int, random: Random) -> float:
    """One week in eight nobody works."""
    return 0.0 if random.random() < 1 / 8 else 1.0


SCENARIOS: dict[str, Rate] = {
    "steady": steady,
    "busy and quiet weeks": busy_and_quiet,
    "growth": growth,
    "a step up": step_up,
    "closed weeks": closed_weeks,
}


def week_of_use(rate: float, random: Random, hours_a_day: float) -> list[float]:
    """Hours on each of seven days: cases of about an hour, as many as chance gives."""
    days = []
    for share in WORKDAYS:
        cases = _poisson(hours_a_day * share * rate, random)
        days.append(sum(random.lognormvariate(-0.08, 0.4) for _ in range(cases)))
    return days


def _poisson(mean: float, random: Random) -> int:
    bound, product, count = math.exp(-mean), random.random(), 0
    while product > bound:
        product *= random.random()
        count += 1
    return count


@dataclass(frozen=True)
class Trial:
    """A forecast of one clinic, and the day on which the supply ran out."""

    scenario: str
    history: int
    forecast: Quantiles
    mean: int | None
    came: int


def trials(repeats: int, seed: int = 20260306) -> Iterator[Trial]:
    """Each scenario with each length of history, ``repeats`` times with another clinic."""
    for scenario, rate in SCENARIOS.items():
        for history in HISTORIES:
            for repeat in range(repeats):
                random = Random(f"{seed} {scenario} {history} {repeat}")  # noqa: S311
                hours_a_day = random.uniform(0.7, 3.0)
                weeks = [
                    week_of_use(rate(week, random), random, hours_a_day)
                    for week in range(-history, AHEAD)
                ]
                past, coming = weeks[:history][::-1], weeks[history:]
                left = random.uniform(2.0, 40.0)
                came = _ran_out(left, coming)
                forecast = quantiles(left, past, f"{seed} {repeat}")
                yield Trial(scenario, history, forecast, mean_days(left, past), came)


def _ran_out(left: float, weeks: list[list[float]]) -> int:
    for day, use in enumerate(use for week in weeks for use in week):
        left -= use
        if left <= 0:
            return day
    return len(weeks) * 7


def scored(found: list[Trial]) -> Scores:
    """What the program itself says of issued forecasts."""
    return scores(Scored(one.forecast, one.mean, one.came) for one in found)


def main() -> None:
    """Print the figures of each scenario and of all."""
    found = list(trials(int(sys.argv[1]) if len(sys.argv) > 1 else 40))
    groups = {name: [one for one in found if one.scenario == name] for name in SCENARIOS}
    groups |= {f"{n} weeks": [one for one in found if one.history == n] for n in HISTORIES}
    for name, part in (groups | {"all": found}).items():
        told = scored(part)
        print(
            f"{name:22} n {told.count:4}  within {told.within_percent:.1f} %"
            f"  before {told.before_percent:.1f} %"
            f"  score {told.score_days:.2f} d  mean rate {told.mean_score_days:.2f} d"
        )


if __name__ == "__main__":
    main()
