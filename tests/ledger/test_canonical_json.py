"""One value has one spelling, and nothing that programs read differently gets in."""

import json
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.entries.base import canonical_json
from logbook.entries.case import Case
from logbook.errors import InputError

SCALARS = st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(max_size=8)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=12,
)


def turned_around(value: Any) -> Any:
    """The same value with every object's keys written in the opposite order."""
    if isinstance(value, dict):
        return {key: turned_around(value[key]) for key in reversed(value)}
    return [turned_around(item) for item in value] if isinstance(value, list) else value


@given(VALUES)
def test_a_value_reads_back_from_printable_ascii(value: Any) -> None:
    text = canonical_json(value)
    assert json.loads(text) == value
    assert re.fullmatch(r"[ -~]*", text)


@given(VALUES)
def test_the_order_in_which_keys_were_written_does_not_show(value: Any) -> None:
    assert canonical_json(turned_around(value)) == canonical_json(value)


def test_keys_are_sorted_and_nothing_is_spaced() -> None:
    value = {"b": [1, True, None], "a": {"d": "x y", "c": "é"}}
    assert canonical_json(value) == '{"a":{"c":"\\u00e9","d":"x y"},"b":[1,true,null]}'


@pytest.mark.parametrize("number", [0.5, 1.0, float("nan"), float("inf"), 2**53, -(2**53)])
@pytest.mark.parametrize(
    "wrap", [lambda n: n, lambda n: [n], lambda n: (n,), lambda n: {"a": {"b": [n]}}]
)
def test_numbers_that_programs_read_differently_are_refused(number: Any, wrap: Any) -> None:
    with pytest.raises(InputError, match=r"cannot be stored exactly; write it as text$"):
        canonical_json(wrap(number))


def test_a_case_is_stored_with_its_readings_as_text() -> None:
    case = Case.of(
        machine="bay1",
        ended_at="2026-03-02T16:45:00Z",
        weight_g="24000",
        segments=[{"flow_ml_min": "1000", "dial_percent": "2.50"}],
    )
    assert case.canonical() == (
        '{"circuit":"unknown","ended_at":"2026-03-02T16:45:00Z","machine":"bay1",'
        '"segments":[{"dial_percent":"2.50","flow_ml_min":"1000"}],"weight_g":"24000"}'
    )


@pytest.mark.parametrize("weight", [24000.0, "1e4", "nan", "2.", "٢٤٠٠٠", True, " 24000", "1,000"])
def test_a_reading_that_is_not_a_plain_number_is_refused(weight: Any) -> None:
    with pytest.raises(InputError, match="the weight is "):
        Case.of(machine="bay1", ended_at="2026-03-02T16:45:00Z", weight_g=weight)
