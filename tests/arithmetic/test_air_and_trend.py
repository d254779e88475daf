"""The air's pressure by height, and the line through measurements over time."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.arithmetic.air import ambient_kpa, usual_pressure_kpa
from logbook.arithmetic.trend import trend

WHOLE = st.integers(-1000, 1000).map(Decimal)


def test_at_the_sea_the_air_has_its_standard_pressure() -> None:
    assert usual_pressure_kpa(Decimal(0)) == Decimal("101.3")


@given(st.integers(0, 5999))
def test_higher_is_never_more_pressure(altitude_m: int) -> None:
    above = usual_pressure_kpa(Decimal(altitude_m + 1))
    assert above <= usual_pressure_kpa(Decimal(altitude_m))


@pytest.mark.parametrize(
    ("told", "altitude", "counts"),
    [("83.0", "1609", "83.0"), (None, "1609", "83.4"), (None, None, None), ("90", None, "90")],
)
def test_a_pressure_that_was_told_counts_before_the_height(
    told: str | None, altitude: str | None, counts: str | None
) -> None:
    given_ = (None if one is None else Decimal(one) for one in (told, altitude))
    assert ambient_kpa(*given_) == (None if counts is None else Decimal(counts))


@given(slope=WHOLE, level=WHOLE, times=st.lists(WHOLE, min_size=2, unique=True))
def test_points_on_a_line_give_the_line(
    slope: Decimal, level: Decimal, times: list[Decimal]
) -> None:
    line = trend([(time, level + slope * time) for time in times])
    assert line is not None
    assert round(line.slope, 9) == slope
    assert round(line.at(Decimal(0)), 9) == level


def test_a_line_reaches_the_bound_on_its_way_and_a_level_one_none() -> None:
    rising = trend([(Decimal(0), Decimal(0)), (Decimal(2), Decimal(1))])
    falling = trend([(Decimal(0), Decimal(0)), (Decimal(2), Decimal(-1))])
    level = trend([(Decimal(0), Decimal(1)), (Decimal(2), Decimal(1))])
    assert rising is not None
    assert falling is not None
    assert level is not None
    assert rising.reaches(Decimal(-3), Decimal(4)) == 8
    assert falling.reaches(Decimal(-3), Decimal(4)) == 6
    assert level.reaches(Decimal(0), Decimal(4)) is None


def test_one_time_alone_makes_no_line() -> None:
    assert trend([]) is None
    assert trend([(Decimal(1), Decimal(1)), (Decimal(1), Decimal(2))]) is None
