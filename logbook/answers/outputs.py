"""A vaporizer's measured output: how it is judged, and where it drifts over the years."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from itertools import groupby
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Row, select

from logbook.answers.moment import Moment
from logbook.answers.rules import rulebook
from logbook.arithmetic.constants import DAYS_A_YEAR, DRIFT_AHEAD_YEARS, LEAST_VERIFICATIONS
from logbook.arithmetic.trend import trend
from logbook.errors import NotKnown
from logbook.projections.lookup import clinic_view, vaporizer_views
from logbook.projections.tables import output, service
from logbook.times import utc_from_epoch_s
from logbook.units import shown, whole
from logbook.value import Value

if TYPE_CHECKING:
    from logbook.entries.service import OutputVerification

_FINEST = Decimal("0.001")


class Measured(Value):
    """An output at a setting of the dial, and what was expected and allowed, all in vol %.

    ``bias_percent`` is how far it lies from what is expected, in percent of that, None at a dial
    of nothing; ``within`` tells whether that is allowed.
    """

    dial_percent: Decimal
    measured_percent: Decimal
    expected_percent: Decimal
    low_percent: Decimal
    high_percent: Decimal
    bias_percent: Decimal | None
    within: bool


class Verification(Value):
    """A verification of a vaporizer's output, and the setting at which it was worst."""

    entry: int
    at: datetime
    outcome: str
    outputs: tuple[Measured, ...]
    worst: Measured


class OutputDrift(Value):
    """How the output at a setting moved since the last verification that failed.

    ``percent_a_year`` is of what is expected; ``leaves_on`` the day on which the line leaves what
    is allowed, None where that lies too far ahead to tell.
    """

    dial_percent: Decimal
    verifications: int
    percent_a_year: Decimal
    leaves_on: date | None


class OutputHistory(Value):
    """Every verification of a vaporizer, oldest first, and its drift by setting of the dial."""

    verifications: list[Verification]
    drifts: list[OutputDrift]

    @property
    def leaves_first(self) -> OutputDrift | None:
        """The drift that leaves what is allowed first."""
        leaving = [one for one in self.drifts if one.leaves_on is not None]
        return min(leaving, key=lambda one: one.leaves_on or date.max, default=None)


def judged(
    connection: Connection,
    moment: Moment,
    vaporizer: str,
    outputs: Sequence[tuple[Decimal, Decimal]],
    *,
    outcome: str | None = None,
    tolerance_percent: Decimal | None = None,
    air_kpa: Decimal | None = None,
    **more: Any,
) -> "OutputVerification":
    """What was measured at settings of the dial, with all that judges it: the limits in force, the
    vaporizer's design, and the air's pressure, as it was read or as the clinic tells it.

    Raises:
        NotKnown: there is no such vaporizer.
        InputError: a field does not fit, or the outcome does not bear out the outputs.
    """
    from logbook.entries.service import OutputVerification

    views = vaporizer_views(connection, moment.at_s)
    if vaporizer not in views:
        raise NotKnown("vaporizer", shown(vaporizer), sorted(views))
    limits, clinic = rulebook(connection, moment.at_s).clinic, clinic_view(connection)
    if tolerance_percent is None:
        tolerance_percent = limits["vaporizer-output-tolerance"]
    if air_kpa is None:
        air_kpa = clinic.air_kpa
    told = {
        "vaporizer": vaporizer,
        "outputs": [{"dial_percent": dial, "measured_percent": seen} for dial, seen in outputs],
        "tolerance_percent": tolerance_percent,
        "tolerance_least_percent": limits["vaporizer-output-least"],
        "design": views[vaporizer].design,
        "ambient_kpa": air_kpa,
        **more,
    }
    if outcome is None:
        body = OutputVerification.of(**told, outcome="failed")
        outcome = "failed" if any(body.outside(one) for one in body.outputs) else "passed"
    return OutputVerification.of(**told, outcome=outcome)


def output_history(connection: Connection, moment: Moment, vaporizer: str) -> OutputHistory:
    """The verifications of a vaporizer up to a moment in which its output was measured."""
    query = (
        select(output, service.c.outcome)
        .join(service, service.c.entry == output.c.entry)
        .where(output.c.vaporizer == vaporizer, output.c.at_s <= moment.at_s)
        .order_by(output.c.at_s, output.c.entry, output.c.n)
    )
    rows = list(connection.execute(query))
    by_entry = groupby(rows, key=lambda row: row.entry)
    verifications = [_verification(list(of_entry)) for _, of_entry in by_entry]
    return OutputHistory(verifications, list(_drifts(rows, moment)))


def _verification(rows: list[Row[Any]]) -> Verification:
    first, worst = rows[0], max(rows, key=_share)
    at = utc_from_epoch_s(first.at_s)
    outputs = tuple(_measured(row) for row in rows)
    return Verification(first.entry, at, first.outcome, outputs, _measured(worst))


def _share(row: Row[Any]) -> Decimal:
    """How much of the allowed error an output uses; 1 on the bound itself."""
    off: Decimal = abs(row.measured_percent - row.expected_percent)
    room: Decimal = row.high_percent - row.expected_percent
    return off / room if room else off


def _measured(row: Row[Any]) -> Measured:
    # What rounds to nothing has no percentage: a dial of a millionth divided a page by zero.
    expected, shown = row.expected_percent, row.expected_percent.quantize(_FINEST)
    bias = (row.measured_percent - expected) * 100 / expected if shown else None
    return Measured(
        row.dial_percent,
        row.measured_percent,
        shown,
        row.low_percent.quantize(_FINEST, ROUND_CEILING),
        row.high_percent.quantize(_FINEST, ROUND_FLOOR),
        bias_percent=None if bias is None else round(bias, 1),
        within=row.low_percent <= row.measured_percent <= row.high_percent,
    )


def _drifts(rows: list[Row[Any]], moment: Moment) -> Iterator[OutputDrift]:
    """A vaporizer that failed was mended or set anew, so its drift begins anew after that."""
    failed = [row.entry for row in rows if row.outcome == "failed"]
    by_dial: dict[Decimal, list[Row[Any]]] = {}
    for row in rows[_after(rows, failed[-1]) if failed else 0 :]:
        if row.expected_percent:
            by_dial.setdefault(row.dial_percent, []).append(row)
    for dial, seen in sorted(by_dial.items()):
        points = [(_day(row, moment), row.measured_percent / row.expected_percent) for row in seen]
        line = trend(points)
        if line is None or len({day for day, _ in points}) < LEAST_VERIFICATIONS.value:
            continue
        last = seen[-1]
        bounds = (one / last.expected_percent for one in (last.low_percent, last.high_percent))
        a_year = round(line.slope * 100 * DAYS_A_YEAR.value, 1)
        yield OutputDrift(dial, len(seen), a_year, _ahead(line.reaches(*bounds), moment))


def _after(rows: list[Row[Any]], entry: int) -> int:
    """Where the rows of an entry end."""
    return max(n for n, row in enumerate(rows, start=1) if row.entry == entry)


def _day(row: Row[Any], moment: Moment) -> Decimal:
    return Decimal(moment.day_of(row.at_s).toordinal())


def _ahead(day: Decimal | None, moment: Moment) -> date | None:
    """A day of the calendar, today at the earliest; None where it lies too far ahead to tell."""
    today = moment.day.toordinal()
    if day is None or day > today + DRIFT_AHEAD_YEARS.value * DAYS_A_YEAR.value:
        return None
    return date.fromordinal(max(whole(day, ROUND_FLOOR), today))
