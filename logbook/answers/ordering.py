"""What to order for the week's list: each amount with the units that it was counted from."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_CEILING, Decimal
from enum import StrEnum
from operator import itemgetter

from sqlalchemy import Connection

from logbook.answers.agent import agent_left
from logbook.answers.item import Asked, Clock, ask
from logbook.answers.moment import Moment
from logbook.answers.week import DAYS, Urgency, WeekLine, WeekList, WeekRead, week_read
from logbook.arithmetic.constants import AGENT_BOTTLE_ML


class Goods(StrEnum):
    """What is ordered."""

    ABSORBENT = "charges of absorbent"
    AGENT = "bottles of agent"
    CHARCOAL = "charcoal canisters"
    CYLINDER = "oxygen cylinders"


@dataclass(frozen=True, slots=True)
class From:
    """A unit that needs ``count`` charges, canisters or cylinders, or ``amount_ml`` of agent;
    ``on`` is the day for which to plan, today where it is due already."""

    unit: str
    on: date
    count: int
    amount_ml: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """How many of some goods; ``kind`` is that of the absorbent, the agent or the size of the
    cylinder, and ``each`` a charge in grams or a bottle in mL; None where it was never told."""

    goods: Goods
    kind: str | None
    each: Decimal | None
    count: int
    rests_on: list[From]


@dataclass(frozen=True, slots=True)
class Takes:
    """What a unit takes when it is changed or filled: a machine its charge of absorbent, for so
    many hours at most, and the size of its cylinders; a vaporizer so much of its agent."""

    absorbent_kind: str | None = None
    absorbent_g: Decimal | None = None
    limit_h: Decimal | None = None
    cylinder: str | None = None
    agent: str | None = None
    agent_ml: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class ReadWithOrders:
    """What the list of the week and its orders are made of, read from the ledger."""

    week: WeekRead
    takes: dict[str, Takes]

    def told(self) -> tuple[WeekList, list[Order]]:
        """The list of the week, and what to order for it. What lies on the shelf nobody recorded,
        so that it is not taken off."""
        told = self.week.told()
        needs: dict[tuple[Goods, str | None, Decimal | None], list[From]] = defaultdict(list)
        for key, need in _needs(self.takes, told):
            needs[key].append(need)
        return told, [_order(*key, needs[key]) for key in sorted(needs, key=_rank)]


def read_with_orders(
    connection: Connection, moment: Moment, head: str, closed: Collection[date] = ()
) -> ReadWithOrders:
    """What they are made of at a moment; ``head`` and ``closed`` are those of the forecasts."""
    asked = ask(connection, moment)
    read = week_read(connection, asked, head, closed)
    return ReadWithOrders(read, dict(_taken(asked)))


def _taken(asked: Asked) -> Iterator[tuple[str, Takes]]:
    for tag, view in asked.machines.items():
        limit_h = asked.rules.for_machine(tag)["absorbent-hours"]
        told = (view.absorbent_kind, view.absorbent_g, limit_h, _size(asked, tag))
        yield tag, Takes(*told)
    for tag, vaporizer in asked.vaporizers.items():
        left_ml = agent_left(asked, vaporizer).left_ml or Decimal(0)
        whole_ml = (vaporizer.capacity_ml or left_ml) - (vaporizer.low_mark_ml or 0)
        yield tag, Takes(agent=vaporizer.agent, agent_ml=whole_ml)


def _rank(key: tuple[Goods, str | None, Decimal | None]) -> tuple[int, str, Decimal]:
    goods, kind, each = key
    return list(Goods).index(goods), kind or "", each or Decimal(0)


def _order(goods: Goods, kind: str | None, each: Decimal | None, rests_on: list[From]) -> Order:
    count = sum(one.count for one in rests_on)
    if goods is Goods.AGENT:
        whole_ml = sum((one.amount_ml or Decimal(0) for one in rests_on), Decimal(0))
        count = int((whole_ml / AGENT_BOTTLE_ML.value).to_integral_value(ROUND_CEILING))
    return Order(goods, kind, each, count, rests_on)


def _needs(
    takes: Mapping[str, Takes], told: WeekList
) -> Iterator[tuple[tuple[Goods, str | None, Decimal | None], From]]:
    for line in told.lines:
        machine = takes.get(line.machine or "")
        if line.fault is not None or machine is None:
            continue
        on = line.on if line.urgency is Urgency.EXPECTED and line.on else told.day
        need = From(line.unit, on, 1)
        if line.what == "absorbent":
            need = replace(need, count=_changes(machine.limit_h, told, line))
            yield (Goods.ABSORBENT, machine.absorbent_kind, machine.absorbent_g), need
        elif line.what == "charcoal":
            yield (Goods.CHARCOAL, None, None), need
        elif line.what == "oxygen":
            yield (Goods.CYLINDER, machine.cylinder, None), need
    for one in told.forecasts:
        # What fills each vaporizer up that is expected to be at its low mark by then.
        if one.clock is Clock.AGENT and one.plan_for is not None and one.plan_for <= told.until:
            full = takes[one.unit]
            key = (Goods.AGENT, full.agent, AGENT_BOTTLE_ML.value)
            yield key, From(one.unit, one.plan_for, 0, full.agent_ml)


def _size(asked: Asked, machine: str) -> str | None:
    """The size of the cylinder that was read last."""
    cylinders = asked.known.cylinders(machine)
    read = [(one.gauge.at, one.size) for one in cylinders if one.gauge]
    return max(read, key=itemgetter(0))[1] if read else None


def _changes(limit_h: Decimal | None, told: WeekList, line: WeekLine) -> int:
    """How many charges a machine takes up to the end of the list, by its mean hours a week: one,
    and those that a charge of its whole limit leaves over."""
    days = (told.until - max(line.on or told.day, told.day)).days + 1
    rate = told.weekly_absorbent_h.get(line.unit)
    return 1 + int(rate * days / DAYS / limit_h) if limit_h and rate else 1
