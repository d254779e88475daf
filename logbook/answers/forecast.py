"""When what is in use will probably have run out: absorbent, agent, oxygen, charcoal, run hours.

A forecast says what the past weeks of use make likely. It stands beside the clocks of what is due
and never replaces one of them.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import Connection

from logbook.answers.absorbent import counted_circuits
from logbook.answers.agent import agent_left
from logbook.answers.item import Asked, Clock, DueItem, Measure, Place
from logbook.answers.moment import Moment
from logbook.answers.oxygen import oxygen_left
from logbook.answers.rules import Rulebook
from logbook.answers.spans import CaseUse, Ran, on_machine, uses, with_vaporizer
from logbook.arithmetic.constants import HISTORY_WEEKS, LEAST_WEEKS, WEEK_DAYS
from logbook.arithmetic.forecast import Quantiles, Week, mean_days, quantiles

DAYS = int(WEEK_DAYS.value)
ML, LITRE = 1000, 1_000_000_000
"""Microlitres in a millilitre, nanolitres in a litre; from memory."""


@dataclass(frozen=True, slots=True)
class Supply:
    """Something that is used up: where it is, what counts its use, and how much of it is ``left``
    in ``measure``. ``grams_h`` is what charcoal gained in an hour of use so far."""

    place: Place
    clock: Clock
    measure: Measure
    left: Decimal
    grams_h: float = 0.0


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a supply will probably have run out.

    It rests on ``weeks`` whole weeks of use with a mean of ``per_week``. By ``early`` it ran out in
    one of ten draws, by ``late`` in nine of ten; None beyond half a year, and where the weeks are
    too few to tell. ``mean_on`` is the day by the plain mean alone.
    """

    machine: str | None
    unit: str
    item: str
    clock: Clock
    left: Decimal
    measure: Measure
    weeks: int
    per_week: Decimal
    early: date | None
    likely: date | None
    late: date | None
    mean_on: date | None

    @property
    def enough(self) -> bool:
        """Whether there are weeks enough to say how early."""
        return self.weeks >= LEAST_WEEKS.value

    @property
    def plan_for(self) -> date | None:
        """The day that a careful person plans for."""
        return self.early if self.enough else self.mean_on


@dataclass(frozen=True, slots=True)
class Outlook:
    """What forecasts rest on, read from the ledger: what is in use, and the cases of each unit in
    the weeks before. To draw them takes long, and needs the ledger no more.

    ``head`` is the hash of the ledger's last entry: the same question in the same ledger gets the
    same answer. On ``closed`` days nothing will be used.
    """

    moment: Moment
    rules: Rulebook
    head: str
    closed: Collection[date]
    machines: list[str]
    supplies: list[Supply]
    cases: Mapping[str, list[CaseUse]]

    def forecasts(self) -> list[Forecast]:
        """A forecast of each supply that is in use and not yet due, the earliest first."""
        found = []
        for supply in self.supplies:
            days = self._days(supply)
            if any(days.values()):
                found.append(self._forecast(supply, days))
        return sorted(
            found, key=lambda one: (one.plan_for or date.max, one.unit, one.item, one.clock)
        )

    def weekly_absorbent_h(self) -> dict[str, Decimal]:
        """The mean hours a week for which each machine loads its absorbent, by the same weeks."""
        found = {}
        for tag in self.machines:
            place = Place(tag, tag, "absorbent")
            days = self._days(Supply(place, Clock.HOURS, Measure.HOURS, Decimal(0)))
            found[tag] = _per_week(_weeks(days, self.moment.day) if any(days.values()) else [])
        return found

    def _days(self, supply: Supply) -> dict[date, float]:
        cases = self.cases.get(supply.place.unit, [])
        return used_by_day(self.moment, self.rules, supply, cases)

    def _forecast(self, supply: Supply, days: dict[date, float]) -> Forecast:
        day, left = self.moment.day, float(supply.left)
        weeks, used_today = _weeks(days, day), days.get(day, 0.0)
        shut = {(one - day).days for one in self.closed}
        if self.moment.at_s + 1 >= self.moment.day_began_s(day + timedelta(days=1)):
            shut.add(0)  # The day is over: what it took is known.
        spread, mean = Quantiles(None, None, None), None
        if weeks:
            mean = mean_days(left, weeks, used_today=used_today, closed=shut)
        if len(weeks) >= LEAST_WEEKS.value:
            place = supply.place
            seed = " ".join((self.head, place.unit, place.item, supply.clock, str(day)))
            spread = quantiles(left, weeks, seed, used_today=used_today, closed=shut)
        dates = (spread.early, spread.likely, spread.late, mean)
        return Forecast(
            *supply.place, supply.clock, supply.left, supply.measure, len(weeks),
            _per_week(weeks),
            *(None if after is None else day + timedelta(days=after) for after in dates),
        )  # fmt: skip


def outlook(
    connection: Connection, asked: Asked, items: Iterable[DueItem], head: str,
    closed: Collection[date] = (),
) -> Outlook:  # fmt: skip
    """What the forecasts of a moment rest on; ``items`` are all that is due at it."""
    days = int(HISTORY_WEEKS.value) * DAYS
    first_s = asked.moment.day_began_s(asked.moment.day - timedelta(days=days))
    supplies = list(open_supplies(asked, items))
    units = {one.place.unit for one in supplies} | set(asked.machines)
    cases = uses_of(connection, asked, units, first_s)
    return Outlook(asked.moment, asked.rules, head, closed, list(asked.machines), supplies, cases)


def _per_week(weeks: list[Week]) -> Decimal:
    return Decimal(str(round(sum(map(sum, weeks)) / len(weeks), 2))) if weeks else Decimal(0)


def open_supplies(asked: Asked, items: Iterable[DueItem]) -> Iterator[Supply]:
    """Everything that is used up by cases, as far as there is something left of it."""
    for item in items:
        supply = _of_item(asked, item)
        if supply is not None and supply.left > 0:
            yield supply
    yield from _of_vaporizers(asked)
    yield from _of_cylinders(asked)


def _of_item(asked: Asked, item: DueItem) -> Supply | None:
    if item.used is None or item.limit is None or item.measure is None:
        return None
    if item.clock not in (Clock.HOURS, Clock.CARBON_DIOXIDE, Clock.WEIGHT):
        return None
    place = Place(item.machine, item.unit, item.item)
    supply = Supply(place, item.clock, item.measure, item.limit - item.used)
    if item.clock is not Clock.WEIGHT:
        return supply
    ran_s = asked.known.ran.get(("charcoal", item.unit), Ran()).ran_s
    return replace(supply, grams_h=float(item.used) * 3600 / ran_s) if ran_s else None


def _of_vaporizers(asked: Asked) -> Iterator[Supply]:
    for view in asked.vaporizers.values():
        left = agent_left(asked, view).left_ml
        above_ml = Decimal(0) if left is None else left - (view.low_mark_ml or 0)
        if above_ml > 0:
            place = Place(view.machine, view.vaporizer, view.agent)
            yield Supply(place, Clock.AGENT, Measure.MILLILITRES, above_ml)


def _of_cylinders(asked: Asked) -> Iterator[Supply]:
    """Machines without a pipeline: where there is one, the cylinder waits for its failure."""
    for tag in asked.machines:
        if asked.known.fed_by_pipeline(tag):
            continue
        left_l = oxygen_left(asked, tag, asked.rules.for_machine(tag)["cylinder-low"]).usable_l
        if left_l:
            yield Supply(Place(tag, tag, "oxygen"), Clock.OXYGEN, Measure.LITRES, left_l)


def uses_of(
    connection: Connection, asked: Asked, units: Collection[str], since_s: int
) -> Mapping[str, list[CaseUse]]:
    """The cases of each unit from an instant to the moment, in order of time."""
    until_s = asked.moment.at_s + 1
    spans = [on_machine(tag, tag, since_s, until_s) for tag in asked.machines if tag in units]
    for tag, view in asked.vaporizers.items():
        if tag in units:
            spans += with_vaporizer(tag, view, asked.stays.get(tag, []), since_s, until_s)
    found: dict[str, list[CaseUse]] = defaultdict(list)
    for one in uses(connection, spans):
        if one.began_s >= since_s:
            found[str(one.key)].append(one)
    return found


def used_by_day(
    moment: Moment, rules: Rulebook, supply: Supply, cases: list[CaseUse]
) -> dict[date, float]:
    """What was used of a supply on each day, in its measure; a case counts on the day on which it
    was begun."""
    counted = None
    if supply.place.item == "absorbent":
        counted = counted_circuits(rules.for_machine(supply.place.machine))
    untold = _mean_flow(supply, cases)
    days: dict[date, float] = defaultdict(float)
    for one in cases:
        if counted is None or one.circuit in counted:
            days[moment.day_of(one.began_s)] += _used(supply, one, untold)
    return days


def _mean_flow(supply: Supply, cases: list[CaseUse]) -> float:
    """What a second took in the cases that told their flow, for those that did not: errs early."""
    name = "agent_ul" if supply.clock is Clock.AGENT else "flow_nl_min_s"
    told = [(getattr(one, name), one.ran_s) for one in cases if getattr(one, name) is not None]
    ran_s = sum(ran_s for _, ran_s in told)
    return sum(amount for amount, _ in told) / ran_s if ran_s else 0.0


def _used(supply: Supply, case: CaseUse, untold: float) -> float:
    match supply.clock:
        case Clock.CARBON_DIOXIDE:
            return (case.co2_nl_min or 0) * case.ran_s / 60 / LITRE
        case Clock.AGENT:
            told = untold * case.ran_s if case.agent_ul is None else case.agent_ul
            return told / ML
        case Clock.OXYGEN:
            told = untold * case.ran_s if case.flow_nl_min_s is None else case.flow_nl_min_s
            return told / 60 / LITRE
        case Clock.WEIGHT:
            return supply.grams_h * case.ran_s / 3600
    return case.ran_s / 3600


def _weeks(days: Mapping[date, float], day: date) -> list[Week]:
    """The whole weeks from the first use to yesterday, the newest first; each begins on the
    weekday of ``day``."""
    first = min(one for one, amount in days.items() if amount)
    count = min((day - first).days // DAYS, int(HISTORY_WEEKS.value))
    began = [day - timedelta(days=DAYS * (number + 1)) for number in range(count)]
    week = [timedelta(days=offset) for offset in range(DAYS)]
    return [[days.get(one + offset, 0.0) for offset in week] for one in began]
