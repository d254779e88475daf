"""Sums over thousands of cases, held against adding up each of them."""

from hypothesis import given
from hypothesis import strategies as st

from logbook.answers.audit_ran import RanCase, RanInAll, during
from logbook.vocabulary import LONGEST_CASE_S

SECONDS = st.integers(0, 5 * LONGEST_CASE_S)
LENGTHS = st.integers(0, LONGEST_CASE_S)


def cases(told: list[tuple[int, int]]) -> list[RanCase]:
    return [
        RanCase(number, "bay1", began_s, began_s + ran_s, "unknown", (), "KO", 0)
        for number, (began_s, ran_s) in enumerate(sorted(told), start=1)
    ]


@given(st.lists(st.tuples(SECONDS, LENGTHS)), SECONDS, SECONDS)
def test_the_seconds_between_two_instants_are_those_of_each_case(
    told: list[tuple[int, int]], one_s: int, other_s: int
) -> None:
    ran, (from_s, to_s) = cases(told), sorted((one_s, other_s))
    plain = sum(max(0, min(one.ended_s, to_s) - max(one.began_s, from_s)) for one in ran)
    assert RanInAll.of(ran).seconds(from_s, to_s) == plain


@given(st.lists(st.tuples(SECONDS, LENGTHS)), SECONDS, SECONDS)
def test_no_case_that_ran_meanwhile_is_missed(
    told: list[tuple[int, int]], one_s: int, other_s: int
) -> None:
    ran, (from_s, to_s) = cases(told), sorted((one_s, other_s))
    found = {one.entry for one in during(ran, from_s, to_s)}
    assert {one.entry for one in ran if one.began_s < to_s and one.ended_s > from_s} <= found
