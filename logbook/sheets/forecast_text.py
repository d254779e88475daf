"""Forecasts, and how well those that were given out did, as text."""

from dataclasses import dataclass, fields
from datetime import date
from typing import ClassVar

from logbook.answers.forecast import Forecast
from logbook.answers.forecast_score import ForecastScore
from logbook.answers.item import Clock, Measure
from logbook.arithmetic.constants import LEAST_WEEKS
from logbook.arithmetic.score import Scores
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.sheet import Sheet
from logbook.units import format_decimal

HEED = (
    "A forecast tells what past weeks make likely. What is due decides, and what is seen at the "
    "machine."
)


@dataclass(frozen=True, slots=True)
class ForecastRow:
    """A forecast, its amounts with as many digits as a person reads."""

    machine: str | None
    unit: str
    item: str
    clock: Clock
    left: str
    measure: Measure
    weeks: int
    per_week: str
    early: date | None
    likely: date | None
    late: date | None
    mean_on: date | None
    words: str

    @classmethod
    def of(cls, one: Forecast) -> "ForecastRow":
        """The row of a forecast."""
        told = {field.name: getattr(one, field.name) for field in fields(one)}
        amounts = {"left": _amount(one), "per_week": format_decimal(round(one.per_week, 1))}
        return cls(**told | amounts, words=forecast_words(one))


@dataclass(frozen=True, slots=True)
class ForecastSheet(Sheet):
    """What will probably have run out, and when, the earliest first."""

    schema: ClassVar[str] = "forecast/1"
    as_of: date
    closed: list[date]
    forecasts: list[ForecastRow]
    checkpoint: Checkpoint

    @classmethod
    def of(
        cls, day: date, closed: list[date], found: list[Forecast], checkpoint: Checkpoint
    ) -> "ForecastSheet":
        """The sheet of the forecasts."""
        return cls(day, closed, [ForecastRow.of(one) for one in found], checkpoint)

    def lines(self) -> Lines:
        """The forecasts as text."""
        if not self.forecasts:
            return [Line(f"Nothing was used up to {self.as_of} of which something is left.")]
        head = Line(f"Forecast of {self.as_of:%A} {self.as_of}, the earliest first:")
        rows = [under(f"{place(one.machine, one.unit)}: {one.words}") for one in self.forecasts]
        return [head, *rows, Line(HEED), Line(self.checkpoint.line())]


def place(machine: str | None, unit: str) -> str:
    """The unit, with the machine on which it stands where that is another thing."""
    return unit if machine in (None, unit) else f"{unit} on {machine}"


def forecast_words(one: Forecast) -> str:
    """What a forecast says, without the unit that it is about."""
    measure = f"{one.measure} carbon dioxide" if one.clock is Clock.CARBON_DIOXIDE else one.measure
    left = f"{one.item}, {_amount(one)} {measure} left"
    rate = f"{format_decimal(round(one.per_week, 1))} {measure} a week"
    weeks = "1 whole week" if one.weeks == 1 else f"{one.weeks} whole weeks"
    if not one.enough:
        least = format_decimal(LEAST_WEEKS.value)
        plain = f"; at the plain rate of {rate}, {_day(one.mean_on)}" if one.weeks else ""
        return f"{left}: {weeks} of use, fewer than {least}, do not tell how early{plain}"
    if one.early is None:
        return f"{left}: not within half a year (1 in 10); {rate} over {weeks}"
    return (
        f"{left}: likely {_day(one.likely)}, as early as {_day(one.early)} (1 in 10); "
        f"{rate} over {weeks}"
    )


def _amount(one: Forecast) -> str:
    digits = 2 if one.measure is Measure.HOURS else 0
    return format_decimal(round(one.left, digits))


def _day(day: date | None) -> str:
    return "after more than half a year" if day is None else short_day(day)


def short_day(day: date) -> str:
    """A day with its weekday."""
    return f"{day:%a} {day}"


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """The scores of forecasts, with as many digits as a person reads; days and parts of a hundred.

    ``within`` are those that came from the early to the late day, with the bounds between which
    chance alone would put their part.
    """

    within_percent: str
    within_from_percent: str
    within_to_percent: str
    before_percent: str
    score_days: str
    mean_score_days: str

    @classmethod
    def of(cls, told: Scores) -> "ScoreRow":
        """The row of scores."""
        digits = {"score_days": 2, "mean_score_days": 2}
        names = [field.name for field in fields(cls)]
        return cls(*(f"{getattr(told, name):.{digits.get(name, 0)}f}" for name in names))


@dataclass(frozen=True, slots=True)
class ForecastScoreSheet(Sheet):
    """How well the forecasts that were given out did."""

    schema: ClassVar[str] = "forecast-score/1"
    as_of: date
    issued: int
    known: int
    scores: ScoreRow | None

    @classmethod
    def of(cls, day: date, answer: ForecastScore) -> "ForecastScoreSheet":
        """The sheet of a score."""
        told = ScoreRow.of(answer.scores) if answer.scores else None
        return cls(day, answer.issued, answer.known, told)

    def lines(self) -> Lines:
        """The score as text."""
        head = Line(f"{self.issued} forecasts were kept; of {self.known} it is known what came.")
        if self.scores is None:
            return [head]
        told = self.scores
        return [
            head,
            under(
                f"Within the days from early to late: {told.within_percent} % (by chance "
                f"{told.within_from_percent} to {told.within_to_percent} %; meant are 80 %)."
            ),
            under(f"Before the early day: {told.before_percent} % (meant are 10 %)."),
            under(
                f"Mean quantile score: {told.score_days} days, of the plain mean rate "
                f"{told.mean_score_days} days; less is better."
            ),
        ]
