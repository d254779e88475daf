"""A measured value is judged at its bounds, which are both within."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.arithmetic.allowed import Allowed, about
from logbook.arithmetic.vaporizer import allowed_output

numbers = st.decimals(min_value=0, max_value=2000, places=2, allow_nan=False)


def test_each_bound_is_within_and_one_step_beyond_is_not() -> None:
    both = Allowed(Decimal(45), Decimal(55))
    seen = {text: both.includes(Decimal(text)) for text in ("44.9", "45", "55", "55.1")}
    assert seen == {"44.9": False, "45": True, "55": True, "55.1": False}
    assert about(Decimal(50), Decimal(5)) == both


def test_a_bound_that_is_not_there_allows_whatever_lies_on_its_side() -> None:
    assert Allowed(low=Decimal(10)).includes(Decimal(10**9))
    assert Allowed(high=Decimal(10)).includes(Decimal(-(10**9)))
    assert Allowed().includes(Decimal(0))


@given(numbers, numbers, numbers)
def test_a_value_further_from_the_middle_is_never_judged_better(
    middle: Decimal, one: Decimal, other: Decimal
) -> None:
    near, far = sorted((one, other), key=lambda value: abs(value - middle))
    allowed = about(middle, Decimal(15))
    assert allowed.includes(near) or not allowed.includes(far)


@pytest.mark.parametrize(
    ("dial", "measured", "within"),
    [
        ("2", "2.3", True),
        ("2", "1.7", True),
        ("2", "2.3001", False),
        ("2", "1.6999", False),
        ("3", "3", True),
        ("1", "0", False),
        # 15 % of 0.3 is 0.045 exactly, which binary fractions cannot hold.
        ("0.3", "0.345", True),
        ("0.3", "0.3451", False),
    ],
)
def test_an_output_is_within_up_to_and_including_its_tolerance(
    dial: str, measured: str, within: bool
) -> None:
    assert allowed_output(Decimal(dial), Decimal(15)).includes(Decimal(measured)) is within
