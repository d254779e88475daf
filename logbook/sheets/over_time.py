"""What was measured again and again, over time: a picture, its table, and a row of blocks.

A picture never stands alone: whoever cannot see it reads the table or the words beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_CEILING, Decimal
from html import escape
from typing import NamedTuple
from zoneinfo import ZoneInfo

from logbook.answers.drift import Compared
from logbook.answers.outputs import Verification
from logbook.answers.over_time import ChargeUsed, LeakSeen, OverTime
from logbook.sheets.line import Line
from logbook.units import format_decimal

_WIDE, _HIGH, _SIDE, _FOOT = 320, 120, 6, 14
"""The picture in its own units: all of it, its edges, and the foot where the days stand."""
_GROUND = 'class="ground" stroke="#000" fill="none"'
_BOUND = 'class="bound" stroke="#000" stroke-width="2" stroke-dasharray="4 2" fill="none"'
_BARS = ('class="bar bar-0" fill="#444"', 'class="bar bar-1" fill="#fff" stroke="#000"')
_TEXT = 'font-size="11"'
_LAST = f'{_TEXT} class="last" text-anchor="end"'
"""How things look where no style sheet reaches them, as in a PDF; the page's own goes over it."""
_BLOCKS = "▁▂▃▄▅▆▇█"


class Column(NamedTuple):
    """What stands over one day: values side by side, and what bounds them; None where nothing was
    measured."""

    day: str
    values: tuple[Decimal | None, ...]
    bounds: tuple[Decimal, ...] = ()


@dataclass(frozen=True, slots=True)
class Course:
    """A course of values: its name for ids, a title, what the picture shows in words, the columns
    of the picture, the table with its heading, and what tells the bars of a column apart."""

    name: str
    title: str
    words: str
    columns: Sequence[Column]
    heading: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    legend: str = ""

    def svg(self) -> str:
        """The picture as inline SVG, black on white where no style sheet says otherwise."""
        drawn = "".join(_drawn(self.columns))
        told = f"{self.words}. {self.legend}".rstrip(" .")
        title, words = escape(self.title), escape(told)
        return (
            f'<svg class="course" viewBox="0 0 {_WIDE} {_HIGH}" role="img" '
            f'aria-labelledby="{self.name}-title {self.name}-words">'
            f'<title id="{self.name}-title">{title}</title>'
            f'<desc id="{self.name}-words">{words}</desc>{drawn}</svg>'
        )

    def line(self) -> Line:
        """The same in one line: words, and a row of blocks where a terminal shows them."""
        return Line(f"{self.title}: {self.words} {self.blocks()}".rstrip())

    def blocks(self) -> str:
        """The first values as a row of blocks, as high as they are beside their bounds."""
        seen = [(column.values[0], max(column.bounds, default=None)) for column in self.columns]
        highest = max((abs(one) for pair in seen for one in pair if one is not None), default=0)
        if not highest:
            return ""
        top = len(_BLOCKS) - 1
        return "".join(
            "·" if value is None else _BLOCKS[min(int(abs(value) * top / highest), top)]
            for value, _ in seen
        )


def _drawn(columns: Sequence[Column]) -> list[str]:
    """Bars from the line of zero, a dash where each is bounded, and the first and last day."""
    told = [
        one for column in columns for one in (*column.values, *column.bounds) if one is not None
    ]
    low, high = min([Decimal(0), *told]), max([Decimal(0), *told])
    room = Decimal(_HIGH - _FOOT - _SIDE)
    scale = room / (high - low) if high > low else Decimal(0)

    def at(value: Decimal) -> str:
        return format_decimal(_SIDE + (high - value) * scale, 1)

    each = Decimal(_WIDE - 2 * _SIDE) / len(columns)
    zero = at(Decimal(0))
    drawn = [f'<path {_GROUND} d="M{_SIDE} {zero}H{_WIDE - _SIDE}"/>']
    for place, column in enumerate(columns):
        left, width = _SIDE + place * each, each * Decimal("0.8") / len(column.values)
        for n, value in enumerate(column.values):
            if value is not None:
                from_, to = sorted((Decimal(at(value)), Decimal(zero)))
                drawn.append(
                    f'<rect {_BARS[n]} x="{format_decimal(left + n * width, 1)}" '
                    f'y="{from_}" width="{format_decimal(width, 1)}" '
                    f'height="{format_decimal(max(to - from_, Decimal("0.8")), 1)}"/>'
                )
        right = format_decimal(left + each, 1)
        for bound in column.bounds:
            drawn.append(f'<path {_BOUND} d="M{format_decimal(left, 1)} {at(bound)}H{right}"/>')
    foot = _HIGH - 3
    drawn.append(f'<text {_TEXT} x="{_SIDE}" y="{foot}">{escape(columns[0].day)}</text>')
    if len(columns) > 1:
        last = escape(columns[-1].day)
        drawn.append(f'<text {_LAST} x="{_WIDE - _SIDE}" y="{foot}">{last}</text>')
    return drawn


def courses(told: OverTime, zone: ZoneInfo) -> list[Course]:
    """What there is to be shown of a unit."""
    every = (
        charges_course(told.charges),
        leaks_course(told.leaks),
        use_course(told.agent, zone),
        outputs_course(told.outputs, zone),
    )
    return [one for one in every if one is not None]


def charges_course(charges: Sequence[ChargeUsed]) -> Course | None:
    """Hours of use by charge, with the limit; None where no change is recorded."""
    if not charges:
        return None
    hours = [Decimal(one.used_s) / 3600 for one in charges]
    over = sum(
        one.limit_h is not None and used_h > one.limit_h
        for one, used_h in zip(charges, hours, strict=True)
    )
    columns = [
        Column(_day(one.from_at), (used_h,), () if one.limit_h is None else (one.limit_h,))
        for one, used_h in zip(charges, hours, strict=True)
    ]
    rows = [
        (
            _day(one.from_at),
            _day(one.ended_at) if one.ended_at else "in use",
            _hours(used_h),
            format_decimal(one.limit_h) if one.limit_h is not None else "off",
            str(one.entry),
        )
        for one, used_h in zip(charges, hours, strict=True)
    ]
    words = (
        f"{_counted(len(charges), 'charge')}, {over} of them beyond the limit; the last one has "
        f"{_hours(hours[-1])} h{_of(charges[-1].limit_h)}"
    )
    heading = ("Filled in", "Until", "Use (h)", "Limit (h)", "Entry")
    return Course("absorbent", "Absorbent, hours of use by charge", words, columns, heading, rows)


def leaks_course(leaks: Sequence[LeakSeen]) -> Course | None:
    """The leak by check, with the limit; None where no leak test is recorded."""
    if not leaks:
        return None
    columns = [Column(_day(one.at), (one.flow_ml_min,), (one.limit_ml_min,)) for one in leaks]
    rows = [
        (
            _day(one.at),
            format_decimal(one.flow_ml_min) if one.flow_ml_min is not None else "",
            f"{one.held_s} s" if one.held_s is not None else "",
            one.state,
            format_decimal(one.limit_ml_min),
            str(one.entry),
        )
        for one in leaks
    ]
    failed = sum(one.state == "failed" for one in leaks)
    last = next((one for one in reversed(leaks) if one.flow_ml_min is not None), None)
    told = (
        f"; the last flow was {format_decimal(last.flow_ml_min)} mL/min of "
        f"{format_decimal(last.limit_ml_min)}"
        if last is not None and last.flow_ml_min is not None
        else "; none of them told a flow"
    )
    words = f"{_counted(len(leaks), 'leak test')}, {failed} failed{told}"
    heading = ("Day", "Flow (mL/min)", "Held", "Judged", "Limit (mL/min)", "Entry")
    return Course("leaks", "Leak, mL/min by check", words, columns, heading, rows)


def use_course(compared: Sequence[Compared], zone: ZoneInfo) -> Course | None:
    """Agent that was seen to be used beside what dial and flow count, in mL between two levels."""
    if not compared:
        return None
    days = [_day(one.at.astimezone(zone)) for one in compared]
    columns = [
        Column(day, (one.seen, one.worked_out)) for day, one in zip(days, compared, strict=True)
    ]
    rows = [
        (
            day,
            format_decimal(one.seen, 0),
            format_decimal(one.worked_out, 0),
            "" if one.difference_percent is None else f"{one.difference_percent:+} %",
            str(one.untold_cases or ""),
            str(one.entry),
        )
        for day, one in zip(days, compared, strict=True)
    ]
    last = compared[-1]
    words = (
        f"{_counted(len(compared), 'level')} against the one before; at the last "
        f"{format_decimal(last.seen, 0)} mL were seen to be used and "
        f"{format_decimal(last.worked_out, 0)} mL counted by dial and flow"
    )
    heading = ("Day", "Seen (mL)", "Counted (mL)", "Difference", "Cases untold", "Entry")
    legend = "Filled: seen. Hollow: counted"
    return Course("use", "Agent, mL seen and counted", words, columns, heading, rows, legend)


def outputs_course(verifications: Sequence[Verification], zone: ZoneInfo) -> Course | None:
    """The worst error of each output verification, with what was allowed there."""
    seen = [one for one in verifications if one.worst.bias_percent is not None]
    if not seen:
        return None
    columns, rows = [], []
    for one in seen:
        worst, day = one.worst, _day(one.at.astimezone(zone))
        low, high = (
            (bound - worst.expected_percent) * 100 / worst.expected_percent
            for bound in (worst.low_percent, worst.high_percent)
        )
        columns.append(Column(day, (worst.bias_percent,), (high, low)))
        error = f"{worst.bias_percent:+} %"
        allowed = f"{low:+.0f} to {high:+.0f} %"
        rows.append(
            (day, format_decimal(worst.dial_percent), error, allowed, one.outcome, str(one.entry))
        )
    failed = sum(one.outcome == "failed" for one in seen)
    words = (
        f"{_counted(len(seen), 'verification')}, {failed} failed; the last one was "
        f"{seen[-1].worst.bias_percent:+} % off at its worst"
    )
    heading = ("Day", "Dial (%)", "Worst error", "Allowed", "Outcome", "Entry")
    return Course("outputs", "Output, worst error in %", words, columns, heading, rows)


def _day(at: datetime) -> str:
    return f"{at:%Y-%m-%d}"


def _hours(hours: Decimal) -> str:
    """Hours of use with two digits, rounded up: what is used is never told as less."""
    return format_decimal(hours, 2, ROUND_CEILING)


def _of(limit_h: Decimal | None) -> str:
    return "" if limit_h is None else f" of {format_decimal(limit_h)} h"


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" + ("" if count == 1 else "s")
