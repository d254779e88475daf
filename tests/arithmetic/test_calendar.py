"""What is due falls due on the day that its rhythm says, and never on or before the last day."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logbook.arithmetic.calendar import next_due
from logbook.errors import InputError

DAY = date(2026, 1, 31)
days = st.dates(date(1990, 1, 1), date(2090, 1, 1))
intervals = st.one_of(
    st.integers(1, 40).map("P{}M".format),
    st.integers(1, 10).map("P{}Y".format),
    st.integers(1, 60).map("P{}W".format),
    st.integers(1, 900).map("P{}D".format),
)
rules = st.sampled_from(
    [
        "FREQ=MONTHLY;BYMONTHDAY=15",
        "FREQ=MONTHLY;BYMONTHDAY=31",
        "FREQ=WEEKLY;BYDAY=MO,TH",
        "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=29",
        "FREQ=MONTHLY;BYDAY=-1FR",
        "FREQ=DAILY;INTERVAL=9",
        "RRULE:FREQ=MONTHLY;INTERVAL=3;BYDAY=1MO",
        "FREQ=YEARLY",
    ]
)


@pytest.mark.parametrize(
    "text",
    [
        "P12M",
        "P1Y",
        "P2W",
        "P90D",
        "P1Y6M",
        "p3m",
        " P1D ",
        "FREQ=MONTHLY;BYMONTHDAY=15",
        "RRULE:FREQ=WEEKLY;BYDAY=MO",
        "freq=daily",
        "FREQ=DAILY;COUNT=3",
        "FREQ=DAILY;UNTIL=20300101T120000Z",
        "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO;WKST=SU",
        "FREQ=MONTHLY;INTERVAL=12;BYMONTHDAY=31",
    ],
)
def test_rhythms_that_can_be_followed_are_accepted(text: str) -> None:
    assert next_due(text, DAY) > DAY


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "is empty"),
        ("   ", "is empty"),
        ("P", "no time at all"),
        ("P0D", "no time at all"),
        ("PT8H", "not an interval of days"),
        ("P1DT8H", "not an interval of days"),
        ("P1.5Y", "not an interval of days"),
        ("P-1D", "not an interval of days"),
        ("P1D6M", "not an interval of days"),
        ("P99999D", "not an interval of days"),
        ("P١M", "not an interval of days"),
        ("-P1D", "does not read"),
        ("every month", "does not read"),
        ("FREQ=HOURLY", "does not read at FREQ=HOURLY"),
        ("FREQ=SECONDLY", "does not read"),
        ("FREQ=DAILY;BYHOUR=9", "does not read at BYHOUR=9"),
        ("FREQ=DAILY;INTERVAL=0", "does not read at INTERVAL=0"),
        ("FREQ=DAILY;COUNT=0", "does not read at COUNT=0"),
        ("FREQ=DAILY;FREQ=DAILY", "does not read"),
        ("FREQ=DAILY;", "does not read at its end"),
        ("FREQ=DAILY\nFREQ=DAILY", "does not read"),
        ("FREQ=MONTHLY;BYMONTHDAY=32", "does not read at BYMONTHDAY=32"),
        ("FREQ=MONTHLY;BYMONTHDAY=0", "does not read at BYMONTHDAY=0"),
        ("FREQ=MONTHLY;BYDAY=0MO", "does not read at BYDAY=0MO"),
        ("BYDAY=MO", " has no FREQ"),
        ("FREQ=DAILY;COUNT=3;UNTIL=20300101", "both COUNT and UNTIL"),
        ("FREQ=DAILY;UNTIL=20260231", "not in the calendar"),
        ("FREQ=WEEKLY;BYMONTHDAY=1", "does not go with FREQ=WEEKLY"),
        ("FREQ=MONTHLY;BYWEEKNO=1", "does not go with FREQ=MONTHLY"),
        ("FREQ=DAILY;BYDAY=2MO", "numbers a weekday"),
        ("FREQ=MONTHLY;BYSETPOS=1", "nothing to choose from"),
        ("FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30", "does not occur"),
        ("FREQ=MONTHLY;BYDAY=6MO", "does not occur"),
    ],
)
def test_rhythms_that_cannot_be_followed_are_refused_with_the_reason(text: str, why: str) -> None:
    with pytest.raises(InputError, match=why):
        next_due(text, DAY)


@settings(max_examples=200)
@given(st.text(alphabet="PYMWDTFREQ=;:,0123456789-BDAYON", max_size=25))
def test_no_text_makes_a_rhythm_fail_in_any_other_way_than_words(text: str) -> None:
    try:
        due = next_due(text, DAY)
    except InputError as refusal:
        assert str(refusal).startswith("rhythm")  # noqa: PT017
    else:
        assert due > DAY


def test_an_interval_clamps_to_the_end_of_a_short_month_and_a_rule_skips_it() -> None:
    last = date(2026, 1, 31)
    assert next_due("P1M", last) == date(2026, 2, 28)
    assert next_due("P1M", date(2024, 1, 31)) == date(2024, 2, 29)
    assert next_due("FREQ=MONTHLY;BYMONTHDAY=31", last) == date(2026, 3, 31)
    assert next_due("FREQ=MONTHLY", last) == date(2026, 3, 31)


@given(st.one_of(intervals, rules), days)
def test_the_next_day_due_is_always_after_the_last(every: str, last: date) -> None:
    assert next_due(every, last) > last


@given(intervals, days, st.integers(1, 400))
def test_what_was_done_later_is_never_due_earlier(every: str, last: date, later: int) -> None:
    assert next_due(every, last) <= next_due(every, last + timedelta(days=later))


@pytest.mark.parametrize("every", ["FREQ=DAILY;COUNT=1", "FREQ=DAILY;UNTIL=20260131"])
def test_a_rule_that_is_used_up_says_so_and_never_answers_a_date(every: str) -> None:
    assert next_due("FREQ=DAILY;UNTIL=20260201", DAY) == date(2026, 2, 1)
    with pytest.raises(InputError, match="does not occur again after 2026-01-31"):
        next_due(every, DAY)


def test_a_rule_whose_interval_never_meets_its_day_says_so() -> None:
    with pytest.raises(InputError, match="does not occur again"):
        next_due("FREQ=MONTHLY;INTERVAL=12;BYMONTHDAY=31", date(2026, 2, 5))


def test_an_interval_that_leaves_the_calendar_is_refused() -> None:
    with pytest.raises(InputError, match="leaves the calendar"):
        next_due("P50Y", date(9998, 1, 1))
