"""Reading and printing durations, instants and days.

An instant is UTC in whole seconds everywhere inside the program; the clinic's time zone only
makes days and wall times of it here, at the edge. The clock is always handed in. Every reader
raises ``InputError`` with one sentence; a time zone's odd hours are never guessed at.
"""

import re
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from decimal import Decimal
from zoneinfo import ZoneInfo

from logbook.errors import InputError
from logbook.units import format_decimal, parse_decimal, shown
from logbook.vocabulary import DateOrder

# Our own choice: a year outside of these is a slip of the hand, not a date of this trade.
FIRST_YEAR = 1900
LAST_YEAR = 2199

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SECOND = timedelta(seconds=1)

_H_MIN = re.compile(r"([0-9]{1,4}):([0-5][0-9])")
_PART = re.compile(r"([^A-Za-z\s]+)\s*([A-Za-z]*)\s*")
_SECONDS_PER = {
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 3600),
    **dict.fromkeys(("m", "min", "mins", "minute", "minutes"), 60),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1),
}
LONGEST_S = 31 * 86_400
"""A longer duration is a slip of the pen; our own choice."""
_DURATION_EXAMPLE = "1h35, 95min or 10s"

_WALL = re.compile(
    r"(?:(?P<day>(?!tomorrow)[a-z]{3,9}|[0-9]{4}-[0-9]{2}-[0-9]{2}|[0-9]{1,2}/[0-9]{1,2}/(?:[0-9]{2}){1,2})"
    r"(?:\s+|(?<=[0-9])t))?"
    r"(?:(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})(?::(?P<second>[0-9]{2}))?"
    r"|(?P<digits>[0-9]{3,4})|(?P<full>[0-9]{1,2})(?=\s?[ap]))"
    r"(?:\s?(?P<half>[ap])\.?m\.?)?"
    r"\s*(?P<offset>z|[+-][0-9]{2}:?[0-9]{2}(?::[0-9]{2})?)?"
)
_SLASHED = re.compile(r"([0-9]{1,2})/([0-9]{1,2})/((?:[0-9]{2}){1,2})")
_STEPS = {"yesterday": -1, "today": 0, "tomorrow": 1}
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_INSTANT_EXAMPLE = "7:10, yesterday 19:10 or 2026-03-02 07:30"
_ISO_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_UTC = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z")


def parse_duration_s(text: str, what: str = "duration") -> int:
    """Read a duration such as ``1h35``, ``95 min``, ``1:35`` (h:min) or ``2.5h``; answer seconds.

    ``2.5h`` means two and a half hours, never 2 h 5 min; only a lone part may have a dot.

    >>> parse_duration_s("1h35")
    5700

    Raises:
        InputError: it is a bare number, a negative one, or a part of a second: whether to round
            it up or down would depend on what it is used for.
    """
    bare = text.strip().lower()
    if not bare:
        raise InputError(f"{what} is empty; write it like {_DURATION_EXAMPLE}")
    if bare.startswith("-"):
        raise InputError(f"{what} {shown(text)} is below zero; write it like {_DURATION_EXAMPLE}")
    if clock := _H_MIN.fullmatch(bare):
        return _not_too_long(int(clock[1]) * 3600 + int(clock[2]) * 60, text, what)
    seconds = sum(value * per for value, per in _duration_parts(bare, text, what))
    if seconds != int(seconds):
        raise InputError(
            f"{what} {shown(text)} is not a whole number of seconds; "
            f"write it like {_DURATION_EXAMPLE}"
        )
    return _not_too_long(int(seconds), text, what)


def _not_too_long(seconds: int, text: str, what: str) -> int:
    if seconds > LONGEST_S:
        raise InputError(f"{what} {shown(text)} is longer than 31 days; check the unit")
    return seconds


def _duration_parts(bare: str, text: str, what: str) -> list[tuple[Decimal, int]]:
    """Split a duration into numbers, each with the seconds that its unit has."""
    refusal = InputError(
        f"{what} {shown(text)} is not a duration; write it like {_DURATION_EXAMPLE}"
    )
    found = list(_PART.finditer(bare))
    if not found or "".join(part[0] for part in found) != bare:
        raise refusal
    parts: list[tuple[Decimal, int]] = []
    for part in found:
        value, unit = parse_decimal(part[1], what), part[2]
        if not unit and not parts:
            raise InputError(
                f"{what} {shown(text)} needs its unit; write it like {_DURATION_EXAMPLE}"
            )
        # A number without a unit is minutes only straight after hours, as in 1h35.
        per = 60 if not unit and parts[-1][1] == 3600 else _SECONDS_PER.get(unit)
        if (
            per is None
            or value < 0
            or (parts and (per >= parts[-1][1] or value * per >= parts[-1][1]))
        ):
            raise refusal
        parts.append((value, per))
    if len(parts) > 1 and any(value != int(value) for value, _ in parts):
        raise refusal
    return parts


def parse_instant(
    text: str,
    zone: ZoneInfo,
    now: datetime,
    what: str = "time",
    *,
    day_alone_at: time | None = None,
    order: DateOrder | None = None,
) -> datetime:
    """Read ``now``, ``7:10`` (today), ``yesterday 7:10`` or ``2026-03-02 07:30``; answer UTC.

    ``1:10pm``, ``1310`` and ``mon 13:10``, the last Monday at that time, are read, too. Seconds
    and an offset (``Z``, ``-06:00``) may follow. Without an offset the wall time is that of
    ``zone``. A day alone is refused unless ``day_alone_at`` says which time it means.

    >>> noon = datetime(2026, 3, 6, 19, 0, tzinfo=UTC)
    >>> utc_text(parse_instant("yesterday 7:10", ZoneInfo("America/Denver"), noon))
    '2026-03-05T14:10:00Z'

    Raises:
        InputError: it is no time, or a wall time that the zone skips or has twice.
    """
    bare = " ".join(text.split()).lower()
    if bare == "now":
        return _whole_utc(now)
    if _is_day(bare):
        if day_alone_at is None:
            raise InputError(
                f"{what} {shown(text)} is a day without a time; write it like {_INSTANT_EXAMPLE}"
            )
        return _utc_of_wall(
            datetime.combine(parse_day(bare, zone, now, what, order=order), day_alone_at),
            zone,
            text,
            what,
        )
    parts = _WALL.fullmatch(bare)
    if parts is None:
        raise InputError(f"{what} {shown(text)} is not a time; write it like {_INSTANT_EXAMPLE}")
    day = parse_day(parts["day"] or "today", zone, now, what, order=order)
    wall = datetime.combine(day, _clock(parts, text, what))
    if _weekday(parts["day"] or "") is not None and wall > now.astimezone(zone).replace(
        tzinfo=None
    ):
        wall -= timedelta(days=7)
    if parts["offset"]:
        # The day of "today" is the zone's own, so an offset may only stand with a written date.
        if not _ISO_DAY.match(bare):
            raise InputError(
                f"{what} {shown(text)} has an offset but no date; "
                "write it like 2026-11-01 01:30-06:00"
            )
        return _utc_of_offset(wall, parts["offset"], text, what)
    return _utc_of_wall(wall, zone, text, what)


def _clock(parts: re.Match[str], text: str, what: str) -> time:
    """The time of the day as it was written: 7:10, 7:10:30, 7:10pm, 7pm or 1310."""
    digits = parts["digits"] or ""
    hour = int(parts["hour"] or parts["full"] or digits[:-2])
    minute = int(parts["minute"] or digits[-2:] or 0)
    half_fits = parts["half"] is None or (1 <= hour <= 12 and not digits)
    if parts["half"] and half_fits:
        hour = hour % 12 + (12 if parts["half"] == "p" else 0)
    try:
        if half_fits:
            return time(hour, minute, int(parts["second"] or 0))
    except ValueError:
        pass
    raise InputError(f"{what} {shown(text)} is not a time of the day; write it from 0:00 to 23:59")


def _weekday(word: str) -> int | None:
    """Which day of the week a word such as ``mon``, ``tues`` or ``friday`` means."""
    found = [n for n, name in enumerate(_WEEKDAYS) if len(word) >= 3 and name.startswith(word)]
    return found[0] if found else None


def _is_day(bare: str) -> bool:
    written = _ISO_DAY.fullmatch(bare) or _SLASHED.fullmatch(bare)
    named = bare in ("today", "yesterday") or _weekday(bare) is not None
    return named or written is not None


def parse_day(
    text: str,
    zone: ZoneInfo,
    now: datetime,
    what: str = "date",
    *,
    order: DateOrder | None = None,
) -> date:
    """Read ``today``, ``yesterday``, ``tomorrow``, ``mon`` or a date such as ``2026-03-02``.

    The named days are those of ``zone`` at ``now``; a day of the week is the last that was.
    ``3/2/2026`` is read in the ``order`` of the clinic.

    Raises:
        InputError: it is no such day; without an order ``3/2/2026`` is refused with both days that
            it can mean, because half the world reads it as another day.
    """
    bare = text.strip().lower()
    today = _whole_utc(now).astimezone(zone).date()
    if bare in _STEPS:
        return today + timedelta(days=_STEPS[bare])
    weekday = _weekday(bare)
    if weekday is not None:
        return today - timedelta(days=(today.weekday() - weekday) % 7)
    if slashed := _SLASHED.fullmatch(bare):
        bare = _the_one_day(slashed, text, what, order)
    if not _ISO_DAY.fullmatch(bare):
        raise InputError(f"{what} {shown(text)} is not a date; write it like 2026-03-02")
    try:
        day = date.fromisoformat(bare)
    except ValueError:
        raise InputError(
            f"{what} {shown(text)} is not in the calendar; write a date like 2026-03-02"
        ) from None
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise InputError(
            f"{what} {shown(text)} is not in the years {FIRST_YEAR} to {LAST_YEAR}; "
            "write a date like 2026-03-02"
        )
    return day


def _the_one_day(slashed: re.Match[str], text: str, what: str, order: DateOrder | None) -> str:
    """The date that 25/3/2026 means; 3/2/2026 is another day in half of the world."""
    one, other, year = slashed.groups()
    full_year = year if len(year) == 4 else f"20{year}"
    if order is not None:
        month, day = (one, other) if order == "month/day" else (other, one)
        if int(month) > 12:
            raise InputError(
                f"{what} {shown(text)} has no month {month}; dates are written {order} here"
            )
        return f"{full_year}-{month:0>2}-{day:0>2}"
    days = {f"{full_year}-{month:0>2}-{day:0>2}" for month, day in ((one, other), (other, one))}
    dates = sorted(day for day in days if int(day[5:7]) <= 12)
    if len(dates) > 1:
        either = " or ".join(dates)
        raise InputError(f"{what} {shown(text)} can be read in two ways; write {either}")
    return dates[0] if dates else f"{full_year}-{one:0>2}-{other:0>2}"


def _utc_of_offset(wall: datetime, offset: str, text: str, what: str) -> datetime:
    """Answer the instant of a wall time whose offset from UTC was written with it."""
    if offset == "z":
        return wall.replace(tzinfo=UTC)
    digits = offset[1:].replace(":", "").ljust(6, "0")
    hours, minutes, seconds = int(digits[:2]), int(digits[2:4]), int(digits[4:])
    ahead = timedelta(hours=hours, minutes=minutes, seconds=seconds)
    # No zone of the world lies further from UTC than 14 hours.
    if ahead > timedelta(hours=14) or minutes > 59 or seconds > 59:
        raise InputError(
            f"{what} {shown(text)} has no possible offset; write it like 2026-11-01 01:30-06:00"
        )
    place = timezone(-ahead if offset[0] == "-" else ahead)
    return wall.replace(tzinfo=place).astimezone(UTC)


def _utc_of_wall(wall: datetime, zone: ZoneInfo, text: str, what: str) -> datetime:
    """Answer the instant of a wall time of ``zone``; refuse one that is skipped or repeated."""
    first = wall.replace(tzinfo=zone, fold=0)
    second = wall.replace(tzinfo=zone, fold=1)
    before, after = first.astimezone(UTC), second.astimezone(UTC)
    if before == after:
        return before
    if before.astimezone(zone).replace(tzinfo=None) != wall:
        valid = _first_after_gap(after, before, zone)
        raise InputError(
            f"{what} {shown(text)} does not exist in {zone.key}, the clocks were set forward; "
            f"the next time that does is {_minutes(valid.replace(tzinfo=None))}"
        )
    raise InputError(
        f"{what} {shown(text)} happens twice in {zone.key}; "
        f"add the offset: {_minutes(first)} is the first, {_minutes(second)} the second"
    )


def _first_after_gap(low: datetime, high: datetime, zone: ZoneInfo) -> datetime:
    """Find the first local time after the clocks jumped, which they do between two instants."""
    offset_after = high.astimezone(zone).utcoffset()
    while high - low > _SECOND:
        middle = low + (high - low) // 2
        middle = middle.replace(microsecond=0)
        if middle.astimezone(zone).utcoffset() == offset_after:
            high = middle
        else:
            low = middle
    return high.astimezone(zone)


def _minutes(moment: datetime) -> str:
    """Print a wall time, with its offset if it carries one, as short as it truly is."""
    return moment.isoformat(" ", timespec="seconds" if moment.second else "minutes")


def _whole_utc(moment: datetime) -> datetime:
    """Answer an aware moment in UTC, its part of a second dropped."""
    if moment.tzinfo is None:
        raise ValueError(f"{moment.isoformat()} has no time zone")
    return moment.astimezone(UTC).replace(microsecond=0)


def utc_text(instant: datetime) -> str:
    """Print an instant like ``2026-03-02T14:30:00Z``.

    Raises:
        ValueError: it has no zone.
    """
    return _whole_utc(instant).replace(tzinfo=None).isoformat(timespec="seconds") + "Z"


def utc_parse(text: str) -> datetime:
    """Read exactly what ``utc_text`` prints.

    Raises:
        InputError: it has any other form.
    """
    try:
        # Some versions of Python read 24:00 too, which would give one instant two spellings.
        if _UTC.fullmatch(text) and utc_text(instant := datetime.fromisoformat(text)) == text:
            return instant
    except ValueError:
        pass
    raise InputError(f"instant {shown(text)} is not UTC; write it like 2026-03-02T14:30:00Z")


def utc_from_epoch_s(seconds: int) -> datetime:
    """Answer the UTC instant that lies ``seconds`` after 1970-01-01T00:00:00Z."""
    return _EPOCH + timedelta(seconds=seconds)


def epoch_s(instant: datetime) -> int:
    """Answer the whole seconds from 1970-01-01T00:00:00Z.

    Raises:
        ValueError: the instant has no zone.
    """
    return (_whole_utc(instant) - _EPOCH) // _SECOND


def local_text(instant: datetime, zone: tzinfo | None = None) -> str:
    """Print an instant as the wall time of ``zone``, else its own: ``2026-03-02 07:30``.

    A wall time that the zone has twice carries its offset, so that it reads back as itself.
    """
    local = _whole_utc(instant).astimezone(zone or instant.tzinfo)
    twice = local.utcoffset() != local.replace(fold=1 - local.fold).utcoffset()
    return (local if twice else local.replace(tzinfo=None)).isoformat(" ", timespec="minutes")


def hours_text(seconds: int) -> str:
    """Print seconds as hours with at most two digits behind the dot.

    >>> hours_text(5700), hours_text(8 * 3600)
    ('1.58', '8')
    """
    return format_decimal(round(Decimal(seconds) / 3600, 2))


def duration_text(seconds: int) -> str:
    """Print seconds; what is printed reads back as the same duration.

    >>> duration_text(5700)
    '1 h 35 min'
    """
    hours, rest = divmod(abs(seconds), 3600)
    minutes, last = divmod(rest, 60)
    parts = ((hours, "h"), (minutes, "min"), (last, "s"))
    text = " ".join(f"{value} {unit}" for value, unit in parts if value) or "0 s"
    return f"-{text}" if seconds < 0 else text
