"""When something falls due again: intervals by ISO 8601, fixed rhythms by RFC 5545.

The two differ on a day that a month lacks. An interval *clamps*: 31 January and one month is the
last day of February. A rule *skips*: monthly on the 31st has no February at all.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import islice
from typing import TYPE_CHECKING

from logbook.errors import InputError
from logbook.units import shown

# dateutil is imported inside the functions, because most commands never need it.
if TYPE_CHECKING:
    from dateutil.relativedelta import relativedelta
    from dateutil.rrule import rrule, rruleset

# Our own choice: a rule that brings no date in so many years is a slip of the hand. The rarest
# rule that makes sense, 29 February on a given weekday, needs 40 years across 2100.
HORIZON_YEARS = 50

_INTERVAL = re.compile(
    r"P(?:(?P<years>[0-9]{1,2})Y)?(?:(?P<months>[0-9]{1,3})M)?"
    r"(?:(?P<weeks>[0-9]{1,3})W)?(?:(?P<days>[0-9]{1,4})D)?"
)
_EXAMPLES = "P12M, P2W or FREQ=MONTHLY;BYMONTHDAY=15"


def _listed(pattern: str) -> re.Pattern[str]:
    """Match one or more of ``pattern`` with commas between them."""
    return re.compile(f"(?:{pattern})(?:,(?:{pattern}))*")


# RFC 5545 §3.3.10. The parts that name hours, minutes and seconds are left out on purpose: a
# rhythm names days.
_PARTS = {
    "FREQ": re.compile("DAILY|WEEKLY|MONTHLY|YEARLY"),
    "INTERVAL": re.compile("[1-9][0-9]{0,2}"),
    "COUNT": re.compile("[1-9][0-9]{0,3}"),
    "UNTIL": re.compile("[0-9]{8}(?:T[0-9]{6}Z?)?"),
    "BYMONTH": _listed("0?[1-9]|1[0-2]"),
    "BYMONTHDAY": _listed("[+-]?(?:0?[1-9]|[12][0-9]|3[01])"),
    "BYYEARDAY": _listed("[+-]?(?:[1-9][0-9]?|[12][0-9]{2}|3[0-5][0-9]|36[0-6])"),
    "BYWEEKNO": _listed("[+-]?(?:0?[1-9]|[1-4][0-9]|5[0-3])"),
    "BYDAY": _listed("(?:[+-]?(?:0?[1-9]|[1-4][0-9]|5[0-3]))?(?:MO|TU|WE|TH|FR|SA|SU)"),
    "BYSETPOS": _listed("[+-]?(?:[1-9][0-9]?|[12][0-9]{2}|3[0-5][0-9]|36[0-6])"),
    "WKST": re.compile("MO|TU|WE|TH|FR|SA|SU"),
}

# RFC 5545 §3.3.10 again: parts that mean nothing beside other frequencies.
_ONLY_WITH = {
    "BYWEEKNO": {"YEARLY"},
    "BYYEARDAY": {"YEARLY"},
    "BYMONTHDAY": {"DAILY", "MONTHLY", "YEARLY"},
}
_DAY_PARTS = ("BYMONTH", "BYMONTHDAY", "BYYEARDAY", "BYWEEKNO", "BYDAY")
_NUMBERED_DAY = re.compile("[0-9]")


@dataclass(frozen=True, slots=True)
class _Recurrence:
    """A rule whose parts all read: the text that dateutil gets, and the ends it is kept from."""

    text: str
    count: int | None
    until: date | None


_IN_WORDS = re.compile(r"([1-9][0-9]{0,3}) ?(day|week|month|year)s?", re.ASCII | re.IGNORECASE)


def rhythm_of(text: str) -> str:
    """The ISO 8601 interval of words such as ``12 months``; any other text stays as it is."""
    found = _IN_WORDS.fullmatch(text.strip())
    return f"P{found[1]}{found[2][0].upper()}" if found else text


def next_due(every: str, last: date) -> date:
    """Answer the first day due strictly after ``last``, the day when it was last done.

    Takes an ISO 8601 interval of days or longer (``P12M``, ``P1Y6M``, ``P2W``, ``P90D``), which is
    added to ``last`` and *clamps* to a month's last day, or an RFC 5545 rule
    (``FREQ=MONTHLY;BYMONTHDAY=15``, with or without ``RRULE:`` before it), which starts at
    ``last`` and *skips* a day that a month lacks. The days of a rule are read whole: an ``UNTIL``
    counts by its date, and a ``COUNT`` from the day when it was last done.

    >>> next_due("P1M", date(2026, 1, 31))
    datetime.date(2026, 2, 28)

    Raises:
        InputError: the rhythm makes no sense or brings no day any more.
    """
    if _is_interval(every):
        return _next_of_interval(every, last)
    rule = _rule(every)
    due = next((day for day in _days(rule, last) if day > last), None)
    if due is None:
        raise InputError(
            f"rhythm {shown(every)} does not occur again after {last}; "
            f"write one that goes on, like {_EXAMPLES}"
        )
    return due


def _is_interval(text: str) -> bool:
    """Tell an ISO 8601 duration from a rule by its first letter."""
    if not text.strip():
        raise InputError(f"rhythm is empty; write it like {_EXAMPLES}")
    return text.strip().upper().startswith("P")


def _interval(text: str) -> "relativedelta":
    """Read an ISO 8601 duration of days or longer."""
    from dateutil.relativedelta import relativedelta

    found = _INTERVAL.fullmatch(text.strip().upper())
    if found is None:
        raise InputError(
            f"rhythm {shown(text)} is not an interval of days, weeks, months or years; "
            f"write it like {_EXAMPLES}"
        )
    years, months, weeks, days = (int(part or 0) for part in found.groups())
    if not (years or months or weeks or days):
        raise InputError(f"rhythm {shown(text)} is no time at all; write it like {_EXAMPLES}")
    return relativedelta(years=years, months=months, weeks=weeks, days=days)


def _next_of_interval(text: str, last: date) -> date:
    """Add a clamping interval to the last day."""
    interval = _interval(text)
    try:
        return last + interval
    except (OverflowError, ValueError):
        raise InputError(
            f"rhythm {shown(text)} after {last} leaves the calendar; write it like {_EXAMPLES}"
        ) from None


def _rule(text: str) -> _Recurrence:
    """Read an RFC 5545 rule part by part."""
    parts: dict[str, str] = {}
    for piece in text.strip().upper().removeprefix("RRULE:").split(";"):
        name, _, value = piece.partition("=")
        form = _PARTS.get(name)
        if form is None or name in parts or not form.fullmatch(value):
            raise InputError(
                f"rhythm {shown(text)} does not read at {shown(piece) or 'its end'}; "
                f"write it like {_EXAMPLES}"
            )
        parts[name] = value
    count, until = parts.pop("COUNT", None), parts.pop("UNTIL", None)
    if wrong := _contradiction(parts, both_ends=bool(count and until)):
        raise InputError(f"rhythm {shown(text)} {wrong}; write it like {_EXAMPLES}")
    return _Recurrence(
        ";".join(f"{name}={value}" for name, value in parts.items()),
        count=int(count) if count else None,
        until=_until(until, text) if until else None,
    )


def _contradiction(parts: dict[str, str], both_ends: bool) -> str:
    """Say what RFC 5545 forbids in parts that read one by one; nothing if they fit together."""
    frequency = parts.get("FREQ")
    if frequency is None:
        return "has no FREQ"
    if both_ends:
        return "has both COUNT and UNTIL"
    for name, allowed in _ONLY_WITH.items():
        if name in parts and frequency not in allowed:
            return f"has {name}, which does not go with FREQ={frequency}"
    if frequency in {"DAILY", "WEEKLY"} and _NUMBERED_DAY.search(parts.get("BYDAY", "")):
        return f"numbers a weekday, which does not go with FREQ={frequency}"
    if "BYSETPOS" in parts and not any(name in parts for name in _DAY_PARTS):
        return "has BYSETPOS with nothing to choose from"
    return ""


def _until(value: str, text: str) -> date:
    """Read the date of an ``UNTIL``; a rhythm of days has no use for its time."""
    try:
        return date.fromisoformat(value[:8])
    except ValueError:
        raise InputError(
            f"rhythm {shown(text)} ends on a day that is not in the calendar; "
            f"write it like {_EXAMPLES}"
        ) from None


def _days(rule: _Recurrence, start: date) -> Iterator[date]:
    """Yield the rule's days from ``start`` on, in order, as far as the horizon."""
    from dateutil.rrule import rrulestr

    # The first of January after so many years, or in the calendar's last one.
    last = date(min(start.year + HORIZON_YEARS + 1, date.max.year), 1, 1)
    if rule.until is not None:
        last = min(last, rule.until)
    try:
        # dateutil refuses COUNT beside UNTIL, so the counting is done here.
        days: rrule | rruleset = rrulestr(
            f"{rule.text};UNTIL={last.isoformat().replace('-', '')}",
            dtstart=datetime.combine(start, time()),
        )
        yield from (day.date() for day in islice(days, rule.count))
    except ValueError:
        raise InputError(
            f"rhythm {shown(rule.text)} contradicts itself; write it like {_EXAMPLES}"
        ) from None
