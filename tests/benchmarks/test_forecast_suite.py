"""The forecasts of made-up clinics come true as often as they say."""

import pytest

from tests.benchmarks.forecast_suite import SCENARIOS, Trial, scored, trials


@pytest.fixture(scope="module")
def found() -> list[Trial]:
    """Eighty clinics of each scenario with each length of history: 1,200 forecasts."""
    return list(trials(80))


def test_four_of_five_come_true_within_their_span(found: list[Trial]) -> None:
    assert 75 <= scored(found).within_percent <= 88
    for name in SCENARIOS:
        assert scored([one for one in found if one.scenario == name]).within_percent >= 60


def test_few_come_before_the_early_day(found: list[Trial]) -> None:
    assert scored(found).before_percent <= 16


def test_they_score_no_worse_than_the_plain_mean(found: list[Trial]) -> None:
    told = scored(found)
    assert told.score_days <= 1.02 * told.mean_score_days
