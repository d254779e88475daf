"""Rhythms against RFC 5545's examples, dateutil's documentation and the library icalendar.

The RFC's lists of §3.8.5.3 are quoted whole, as dates; its examples without an end are followed as
far as the RFC or dateutil's documentation prints them. A rhythm here starts anew at the day when
the work was last done, whatever the day on which it was first planned, and it knows days, not
times of the day: where that gives another list than the RFC prints, both are written down here.
"""

from datetime import date, timedelta

import pytest
from icalendar import vRecur

from logbook.arithmetic.calendar import next_due
from logbook.errors import InputError


def series(rule: str, start: str, printed: list[str]) -> list[str]:
    """Follow a rule as the program does: each day due is the day when the work was last done.

    The start counts where it is printed; every Friday the 13th has it taken out by an EXDATE.
    """
    last = date.fromisoformat(start)
    found = [start] if printed[0] == start else []
    while len(found) < len(printed):
        last = next_due(rule, last)
        found.append(last.isoformat())
    return found


def days(first: str, last: str) -> str:
    """Every day from one to another, as the RFC shortens them (October 1-25)."""
    start, end = date.fromisoformat(first), date.fromisoformat(last)
    return " ".join(str(start + timedelta(days=n)) for n in range((end - start).days + 1))


COUNTED = {
    "daily for 10": (
        "FREQ=DAILY;COUNT=10",
        "1997-09-02",
        "1997-09-02 1997-09-03 1997-09-04 1997-09-05 1997-09-06 1997-09-07 1997-09-08 1997-09-09 "
        "1997-09-10 1997-09-11",
    ),
    "every 10 days, 5 times": (
        "FREQ=DAILY;INTERVAL=10;COUNT=5",
        "1997-09-02",
        "1997-09-02 1997-09-12 1997-09-22 1997-10-02 1997-10-12",
    ),
    "weekly for 10": (
        "FREQ=WEEKLY;COUNT=10",
        "1997-09-02",
        "1997-09-02 1997-09-09 1997-09-16 1997-09-23 1997-09-30 1997-10-07 1997-10-14 1997-10-21 "
        "1997-10-28 1997-11-04",
    ),
    "every other week on Tuesday and Thursday, 8 times": (
        "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
        "1997-09-02",
        "1997-09-02 1997-09-04 1997-09-16 1997-09-18 1997-09-30 1997-10-02 1997-10-14 1997-10-16",
    ),
    "monthly on the first Friday for 10": (
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "1997-09-05",
        "1997-09-05 1997-10-03 1997-11-07 1997-12-05 1998-01-02 1998-02-06 1998-03-06 1998-04-03 "
        "1998-05-01 1998-06-05",
    ),
    "every other month on the first and last Sunday for 10": (
        "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU",
        "1997-09-07",
        "1997-09-07 1997-09-28 1997-11-02 1997-11-30 1998-01-04 1998-01-25 1998-03-01 1998-03-29 "
        "1998-05-03 1998-05-31",
    ),
    "monthly on the second-to-last Monday for 6": (
        "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO",
        "1997-09-22",
        "1997-09-22 1997-10-20 1997-11-17 1997-12-22 1998-01-19 1998-02-16",
    ),
    "monthly on the 2nd and 15th for 10": (
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15",
        "1997-09-02",
        "1997-09-02 1997-09-15 1997-10-02 1997-10-15 1997-11-02 1997-11-15 1997-12-02 1997-12-15 "
        "1998-01-02 1998-01-15",
    ),
    "monthly on the first and last day for 10": (
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1",
        "1997-09-30",
        "1997-09-30 1997-10-01 1997-10-31 1997-11-01 1997-11-30 1997-12-01 1997-12-31 1998-01-01 "
        "1998-01-31 1998-02-01",
    ),
    "every 18 months on the 10th to 15th for 10": (
        "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15",
        "1997-09-10",
        "1997-09-10 1997-09-11 1997-09-12 1997-09-13 1997-09-14 1997-09-15 1999-03-10 1999-03-11 "
        "1999-03-12 1999-03-13",
    ),
    "yearly in June and July for 10": (
        "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
        "1997-06-10",
        "1997-06-10 1997-07-10 1998-06-10 1998-07-10 1999-06-10 1999-07-10 2000-06-10 2000-07-10 "
        "2001-06-10 2001-07-10",
    ),
    "every third year on the 1st, 100th and 200th day for 10": (
        "FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200",
        "1997-01-01",
        "1997-01-01 1997-04-10 1997-07-19 2000-01-01 2000-04-09 2000-07-18 2003-01-01 2003-04-10 "
        "2003-07-19 2006-01-01",
    ),
    "the third of a Tuesday, Wednesday or Thursday, 3 months": (
        "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3",
        "1997-09-04",
        "1997-09-04 1997-10-07 1997-11-06",
    ),
    "a week that starts on Monday": (
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
        "1997-08-05",
        "1997-08-05 1997-08-10 1997-08-19 1997-08-24",
    ),
    "the same when it starts on Sunday": (
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU",
        "1997-08-05",
        "1997-08-05 1997-08-17 1997-08-19 1997-08-31",
    ),
    "an invalid date (30 February) is ignored": (
        "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
        "2007-01-15",
        "2007-01-15 2007-01-30 2007-02-15 2007-03-15 2007-03-30",
    ),
}
ENDLESS = {
    "every other day": (
        "FREQ=DAILY;INTERVAL=2",
        "1997-09-02",
        "1997-09-02 1997-09-04 1997-09-06 1997-09-08 1997-09-10",
    ),
    "every other week": (
        "FREQ=WEEKLY;INTERVAL=2;WKST=SU",
        "1997-09-02",
        "1997-09-02 1997-09-16 1997-09-30 1997-10-14 1997-10-28 1997-11-11",
    ),
    "the third-to-the-last day of the month": (
        "FREQ=MONTHLY;BYMONTHDAY=-3",
        "1997-09-28",
        "1997-09-28 1997-10-29 1997-11-28 1997-12-29 1998-01-29 1998-02-26",
    ),
    "every Tuesday, every other month": (
        "FREQ=MONTHLY;INTERVAL=2;BYDAY=TU",
        "1997-09-02",
        "1997-09-02 1997-09-09 1997-09-16 1997-09-23 1997-09-30 1997-11-04",
    ),
    "every 20th Monday of the year": (
        "FREQ=YEARLY;BYDAY=20MO",
        "1997-05-19",
        "1997-05-19 1998-05-18 1999-05-17",
    ),
    "Monday of week number 20": (
        "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO",
        "1997-05-12",
        "1997-05-12 1998-05-11 1999-05-17",
    ),
    "every Friday the 13th": (
        "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13",
        "1997-09-02",
        "1998-02-13 1998-03-13 1998-11-13 1999-08-13 2000-10-13",
    ),
    "US Presidential Election day": (
        "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8",
        "1996-11-05",
        "1996-11-05 2000-11-07 2004-11-02",
    ),
    "the second-to-last weekday of the month": (
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
        "1997-09-29",
        "1997-09-29 1997-10-30 1997-11-27 1997-12-30",
    ),
}


UNTIL = {
    # The rule, its start, the list as printed, and the day that is due here on top of it.
    "daily until 24 December 1997": (
        "FREQ=DAILY;UNTIL=19971224T000000Z",
        "1997-09-02",
        days("1997-09-02", "1997-12-23"),
        "1997-12-24",
    ),
    "weekly until 24 December 1997": (
        "FREQ=WEEKLY;UNTIL=19971224T000000Z",
        "1997-09-02",
        "1997-09-02 1997-09-09 1997-09-16 1997-09-23 1997-09-30 1997-10-07 1997-10-14 1997-10-21 "
        "1997-10-28 1997-11-04 1997-11-11 1997-11-18 1997-11-25 1997-12-02 1997-12-09 1997-12-16 "
        "1997-12-23",
        "",
    ),
    "every other week on Monday, Wednesday and Friday until 24 December 1997": (
        "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
        "1997-09-01",
        "1997-09-01 1997-09-03 1997-09-05 1997-09-15 1997-09-17 1997-09-19 1997-09-29 1997-10-01 "
        "1997-10-03 1997-10-13 1997-10-15 1997-10-17 1997-10-27 1997-10-29 1997-10-31 1997-11-10 "
        "1997-11-12 1997-11-14 1997-11-24 1997-11-26 1997-11-28 1997-12-08 1997-12-10 1997-12-12 "
        "1997-12-22",
        "1997-12-24",
    ),
    "Tuesday and Thursday for five weeks, by date": (
        "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
        "1997-09-02",
        "1997-09-02 1997-09-04 1997-09-09 1997-09-11 1997-09-16 1997-09-18 1997-09-23 1997-09-25 "
        "1997-09-30 1997-10-02",
        "1997-10-07",
    ),
    "monthly on the first Friday until 24 December 1997": (
        "FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR",
        "1997-09-05",
        "1997-09-05 1997-10-03 1997-11-07 1997-12-05",
        "",
    ),
}


@pytest.mark.parametrize(("rule", "start", "printed"), COUNTED.values(), ids=list(COUNTED))
def test_rfc_5545_section_3_8_5_3_lists_by_count_but_work_goes_on(
    rule: str, start: str, printed: str
) -> None:
    expected = printed.split()
    assert series(rule, start, expected) == expected
    # In the RFC the list ends here. A rhythm of work counts anew from each day it was done.
    assert next_due(rule, date.fromisoformat(expected[-1])) > date.fromisoformat(expected[-1])


@pytest.mark.parametrize(("rule", "start", "printed"), ENDLESS.values(), ids=list(ENDLESS))
def test_rfc_5545_section_3_8_5_3_lists_without_end(rule: str, start: str, printed: str) -> None:
    expected = printed.split()
    assert series(rule, start, expected) == expected


@pytest.mark.parametrize(("rule", "start", "printed", "more"), UNTIL.values(), ids=list(UNTIL))
def test_rfc_5545_section_3_8_5_3_lists_by_date_but_the_last_day_is_read_whole(
    rule: str, start: str, printed: str, more: str
) -> None:
    # Midnight in UTC is the evening before in the RFC's New York, where 9 o'clock is then past. A
    # rhythm of days has no time of the day, so the day that UNTIL names is still due here.
    expected = [*printed.split(), *more.split()]
    assert series(rule, start, expected) == expected
    with pytest.raises(InputError, match="does not occur again"):
        next_due(rule, date.fromisoformat(expected[-1]))


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=HOURLY;INTERVAL=3",
        "FREQ=MINUTELY;INTERVAL=15;COUNT=6",
        "FREQ=DAILY;BYHOUR=9,10,11;BYMINUTE=0,20,40",
        # dateutil's documentation takes this one; RFC 5545 §3.3.10 forbids it.
        "FREQ=WEEKLY;COUNT=3;BYWEEKNO=1;BYDAY=MO",
    ],
)
def test_rfc_5545_rules_that_are_no_rhythm_of_days_are_refused(rule: str) -> None:
    with pytest.raises(InputError, match="does not"):
        next_due(rule, date(1997, 9, 2))


@pytest.mark.parametrize(
    ("last", "every", "due"),
    [
        ("2003-01-27", "P1M", "2003-02-27"),
        ("2003-01-31", "P1M", "2003-02-28"),
        ("2003-01-31", "P2M", "2003-03-31"),
        ("2000-02-28", "P1Y", "2001-02-28"),
        ("2000-02-29", "P1Y", "2001-02-28"),
        ("1999-02-28", "P1Y", "2000-02-28"),
        ("1999-03-01", "P1Y", "2000-03-01"),
        ("2003-09-17", "P1M1W", "2003-10-24"),
    ],
)
def test_dateutil_documentation_examples_of_relativedelta(last: str, every: str, due: str) -> None:
    assert next_due(every, date.fromisoformat(last)) == date.fromisoformat(due)


@pytest.mark.parametrize(
    ("rule", "start"), [(rule, start) for rule, start, *_ in (*COUNTED.values(), *ENDLESS.values())]
)
def test_the_library_icalendar_reads_and_writes_the_same_rule(rule: str, start: str) -> None:
    rewritten = vRecur.from_ical(rule).to_ical().decode()
    assert set(rewritten.split(";")) == set(rule.split(";"))
    last = date.fromisoformat(start)
    assert next_due(rewritten, last) == next_due(rule, last)
