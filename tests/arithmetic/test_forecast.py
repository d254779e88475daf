"""Forecasts of what never varies are exact, and what varies is drawn the same way each time."""

from collections.abc import Collection
from itertools import accumulate
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.arithmetic.forecast import Quantiles, Weight, bounds_of_draws, mean_days, quantiles
from logbook.arithmetic.score import Scored, interval, scores

EVEN = [[1.0] * 7] * 26
WORKDAYS = [[2.0] * 5 + [0.0, 0.0]] * 26


def test_the_plain_mean_counts_day_by_day() -> None:
    assert mean_days(3.0, EVEN) == 2
    assert mean_days(3.01, EVEN) == 3
    assert mean_days(11.0, WORKDAYS) == 7
    assert mean_days(182.0, EVEN) == 181
    assert mean_days(182.5, EVEN) is None


def test_what_was_used_today_is_part_of_what_the_day_takes() -> None:
    assert mean_days(1.0, EVEN, used_today=0.4) == 1
    assert mean_days(0.6, EVEN, used_today=0.4) == 0
    assert mean_days(1.0, EVEN, used_today=5.0) == 1


def test_nothing_is_used_on_a_closed_day() -> None:
    assert mean_days(3.0, EVEN, closed={1}) == 3
    assert mean_days(3.0, EVEN, closed={0, 1, 2}) == 5
    early = quantiles(10.0, EVEN, "a", closed=set(range(1, 8))).early
    assert early == 7 + (quantiles(10.0, EVEN, "a").early or 0)


def test_the_same_seed_gives_the_same_answer_and_another_another() -> None:
    weeks = [[float(n % 3), 0, 2.0, 1.0, 0, 0, 0] for n in range(12)]
    answers = {quantiles(40.0, weeks, seed) for seed in ("a", "a", "b", "c", "d")}
    assert len({quantiles(40.0, weeks, "a") for _ in range(3)}) == 1
    assert len(answers) > 1


@pytest.mark.parametrize(
    ("left", "seed", "used_today", "closed", "told"),
    [
        (60.0, "a", 0.0, (), (17, 20, 22)),
        (60.0, "b", 9.0, (), (18, 21, 23)),
        (300.0, "c", 0.0, (), (81, 100, 128)),
        (300.0, "d", 2.5, (0, 1, 8), (82, 102, 133)),
        (3.0, "e", 4.0, (0,), (1, 1, 3)),
        (900.0, "f", 0.0, (200,), (None, None, None)),
        (20.0, "g", 0.0, range(3, 30), (31, 33, 35)),
    ],
)
def test_what_was_answered_once_is_answered_for_ever(
    left: float, seed: str, used_today: float, closed: Collection[int], told: tuple[int | None, ...]
) -> None:
    """Answers of the first version of these draws, which drew in a slower way."""
    weeks = [[float((3 * week + 5 * day) % 7) for day in range(7)] for week in range(30)]
    found = quantiles(left, weeks, seed, used_today=used_today, closed=closed)
    assert (found.early, found.likely, found.late) == told


@given(st.integers(), st.lists(st.floats(0.01, 1.0), min_size=1, max_size=26))
def test_weights_are_drawn_as_the_standard_library_draws_them(
    seed: int, shapes: list[float]
) -> None:
    ours, theirs = Random(seed), Random(seed)  # noqa: S311  Draws of a forecast.
    drawn = list(accumulate(theirs.gammavariate(shape, 1.0) for shape in shapes))
    assert bounds_of_draws(ours, [Weight.of(shape) for shape in shapes]) == drawn
    assert ours.random() == theirs.random()


def test_early_likely_and_late_are_in_order_about_the_day_of_even_use() -> None:
    told = quantiles(70.0, EVEN, "even")
    assert told.early is not None
    assert told.late is not None
    # Even weeks vary by the walk alone: 8 % a week for ten weeks.
    assert 50 <= told.early < 69 < told.late <= 100
    assert told.likely in range(66, 73)


def test_recent_weeks_are_drawn_more_often() -> None:
    grown = [[2.0] * 7] * 8 + [[0.5] * 7] * 18
    shrunk = [[0.5] * 7] * 8 + [[2.0] * 7] * 18
    late = quantiles(40.0, shrunk, "s").likely or 0
    early = quantiles(40.0, grown, "s").likely or 0
    # All weeks alike would say day 41 and day 25.
    assert early < mean_days(40.0, grown) == 41
    assert late > mean_days(40.0, shrunk) == 25


def test_what_lasts_longer_than_half_a_year_has_no_day() -> None:
    assert quantiles(5_000.0, EVEN, "long") == Quantiles(None, None, None)


@pytest.mark.parametrize(
    ("hits", "count", "low", "high"),
    # Newcombe 1998, Statistics in Medicine 17, table I, method 3 (Wilson), from memory.
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_binomial_interval_is_that_of_the_published_examples(
    hits: int, count: int, low: float, high: float
) -> None:
    told = interval(hits, count)
    assert told == pytest.approx((low, high), abs=0.00011)


def test_scores_count_what_came_within_and_before() -> None:
    forecast = Quantiles(3, 5, 9)
    told = scores(Scored(forecast, 6, came) for came in (2, 3, 9, 10))
    assert told is not None
    assert (told.count, told.within_percent, told.before_percent) == (4, 50, 25)
    bounds = (told.within_from_percent / 100, told.within_to_percent / 100)
    assert bounds == pytest.approx(interval(2, 4))
    twice = scores([Scored(forecast, 6, 7)] * 2)
    assert twice is not None
    assert twice.mean_score_days == pytest.approx((0.1 + 0.5 + 0.9) / 3)
    one = scores([Scored(forecast, 6, 7)])
    assert one is not None
    # 0.1 x 4, 0.5 x 2 and 0.1 x 2 days of three; the mean is one day early at each share.
    assert one.score_days == pytest.approx((0.4 + 1.0 + 0.2) / 3)
    assert one.mean_score_days == pytest.approx((0.1 + 0.5 + 0.9) / 3)
    assert scores([]) is None


def test_a_day_beyond_the_horizon_counts_as_its_end() -> None:
    told = scores([Scored(Quantiles(100, None, None), None, 181)])
    assert told is not None
    assert told.within_percent == 100
