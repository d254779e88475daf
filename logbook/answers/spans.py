"""How long things ran and what flowed, in any number of spans of time with one statement.

Sums are made when they are asked for, from the cases as they stand, so a late or corrected case
needs no special care; a case that still runs counts up to the moment, yet never beyond the longest
case, so that a forgotten end does not count for weeks.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from operator import attrgetter
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Subquery,
    and_,
    func,
    select,
)
from sqlalchemy import (
    case as when,
)

from logbook.answers.picked import EVERY, NAMED, UNNAMED, Key, loads, picked_cases, told_by
from logbook.arithmetic.agent import (
    MICROLITRE,
    NL_PER_ML,
    Vaporizing,
    in_thin_air,
    vaporizing,
)
from logbook.ledger.expressions import greatest, least
from logbook.projections.lookup import Stay, VaporizerView
from logbook.projections.tables import segment
from logbook.vocabulary import LONGEST_CASE_S

LOADS_ABSORBENT = ("adult rebreathing", "pediatric rebreathing", "unknown")
"""Circuits whose cases load the absorbent; an unknown circuit errs early."""
AS_TOLD = Vaporizing()


@dataclass(frozen=True, slots=True)
class Span:
    """Cases on a machine or with a vaporizer that began from ``from_s`` to before ``to_s``, as far
    as they ran from ``since_s`` to ``until_s``.

    ``whose`` tells which cases of the machine: every one, or those that name no vaporizer, or those
    that name ``vaporizer``. Without a machine it is every case that names the vaporizer.
    """

    key: Key
    machine: str | None
    vaporizer: str | None
    whose: str
    from_s: int
    to_s: int
    since_s: int
    until_s: int
    vaporizing: Vaporizing = AS_TOLD


def on_machine(key: Key, machine: str, since_s: int, until_s: int) -> Span:
    """Every case of a machine."""
    return Span(key, machine, None, EVERY, since_s - LONGEST_CASE_S + 1, until_s, since_s, until_s)


def with_vaporizer(
    key: Key, view: VaporizerView, stays: list[Stay], since_s: int, until_s: int
) -> Iterator[Span]:
    """The cases that name a vaporizer, and those that name none and began where it stood."""
    first_s, counted = since_s - LONGEST_CASE_S + 1, _vaporizing(view)
    tag = view.vaporizer
    yield Span(key, None, tag, NAMED, first_s, until_s, since_s, until_s, counted)
    for from_s, to_s, machine in stretches(stays, until_s):
        if to_s > first_s:
            began = (max(from_s, first_s), to_s)
            yield Span(key, machine, None, UNNAMED, *began, since_s, until_s, counted)


def through_machine(
    whole: Span, vaporizers: Mapping[str, VaporizerView], stays: Mapping[str, list[Stay]]
) -> Iterator[Span]:
    """The cases of a machine's span with whichever vaporizer each of them used; where two were
    fitted and nobody said which, it counts for both: that errs early."""
    for tag, view in vaporizers.items():
        counted = _vaporizing(view)
        yield replace(whole, vaporizer=tag, whose=NAMED, vaporizing=counted)
        for from_s, to_s, place in stretches(stays.get(tag, []), whole.until_s):
            if place == whole.machine and to_s > whole.from_s:
                yield replace(
                    whole, whose=UNNAMED, from_s=max(from_s, whole.from_s), to_s=to_s,
                    vaporizing=counted,
                )  # fmt: skip


def _vaporizing(view: VaporizerView) -> Vaporizing:
    return vaporizing(view.agent, view.design, view.air_kpa)


def stretches(stays: list[Stay], until_s: int) -> list[tuple[int, int, str]]:
    """The stays on machines as (from, to, machine), ``to`` excluded."""
    ends = [from_s for from_s, _ in [*stays, (until_s, None)]][1:]
    return [
        (from_s, min(to_s, until_s), machine)
        for (from_s, machine), to_s in zip(stays, ends, strict=True)
        if machine is not None
    ]


@dataclass(frozen=True, slots=True)
class Load:
    """Seconds of use, carbon dioxide in nL/min times seconds, and seconds without a weight."""

    ran_s: int = 0
    co2_nl_min_s: int = 0
    unweighed_s: int = 0

    def __add__(self, other: "Load") -> "Load":
        return Load(
            self.ran_s + other.ran_s,
            self.co2_nl_min_s + other.co2_nl_min_s,
            self.unweighed_s + other.unweighed_s,
        )

    @property
    def co2_l(self) -> Decimal:
        """Litres of carbon dioxide."""
        return Decimal(self.co2_nl_min_s) / (60 * 1000 * NL_PER_ML)


@dataclass(frozen=True, slots=True)
class Ran:
    """What ran in a span, by circuit."""

    by_circuit: Mapping[str, Load] = field(default_factory=dict)

    def __add__(self, other: "Ran") -> "Ran":
        circuits = self.by_circuit.keys() | other.by_circuit.keys()
        return Ran({one: self.on([one]) + other.on([one]) for one in circuits})

    @property
    def ran_s(self) -> int:
        """Seconds on any circuit."""
        return sum(load.ran_s for load in self.by_circuit.values())

    def on(self, circuits: Iterable[str]) -> Load:
        """What ran on some circuits."""
        return sum((self.by_circuit.get(one, Load()) for one in circuits), Load())


@dataclass(frozen=True, slots=True)
class Use:
    """Liquid agent in mL, oxygen in L, and cases that told no flow or dial, so that both are lower
    bounds."""

    agent_ml: Decimal = Decimal(0)
    oxygen_l: Decimal = Decimal(0)
    untold_cases: int = 0


Begin = Hashable
"""What spans have in common that begin alike."""


class Sums:
    """What ran in spans, in one transaction in which nothing is written any more.

    Spans that begin alike are added up once as far as they have it in common: a million cases
    since one change of absorbent are not read again for the next question about that change.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._so_far: dict[Begin, dict[int, Ran]] = {}

    def ran(self, spans: Iterable[Span]) -> dict[Key, Ran]:
        """What ran in each span; those of one key are added up."""
        alike: dict[Begin, list[Span]] = defaultdict(list)
        for span in spans:
            if span.until_s > span.since_s:
                alike[_begin(span)].append(span)
        self._add_up(alike)
        found: dict[Key, Ran] = defaultdict(Ran)
        for begin, same in alike.items():
            for span in same:
                found[span.key] += self._so_far[begin][span.until_s]
        return found

    def _add_up(self, alike: Mapping[Begin, list[Span]]) -> None:
        pieces: dict[Begin, list[Span]] = {}
        for begin, same in alike.items():
            so_far = self._so_far.setdefault(begin, {same[0].since_s: Ran()})
            pieces[begin] = list(_pieces(same, so_far))
        # A set, because spans that begin apart can have a piece in common.
        loads = _loads(self._connection, {one for some in pieces.values() for one in some})
        for begin, some in pieces.items():
            so_far = self._so_far[begin]
            for one in some:
                so_far[one.until_s] = so_far[one.since_s] + Ran(loads.get(one, {}))


def _begin(span: Span) -> Begin:
    stay_ended_s = span.to_s if span.to_s < span.until_s else None
    return (span.machine, span.vaporizer, span.whose, span.from_s, span.since_s, stay_ended_s)


def _pieces(alike: Iterable[Span], so_far: Iterable[int]) -> Iterator[Span]:
    """Spans that begin alike, cut where one of them ends, from where they are added up already."""
    ends = set(so_far)
    for span in sorted(alike, key=attrgetter("until_s")):
        if span.until_s not in ends:
            since_s = max(end_s for end_s in ends if end_s < span.until_s)
            from_s = max(span.from_s, since_s - LONGEST_CASE_S + 1)
            yield replace(span, key=None, from_s=from_s, since_s=since_s)
            ends.add(span.until_s)


def _loads(connection: Connection, spans: Iterable[Span]) -> dict[Span, dict[str, Load]]:
    """What ran in each span, by circuit."""
    keyed = [replace(span, key=span) for span in spans if span.from_s < span.to_s]
    found: dict[Any, dict[str, Load]] = defaultdict(dict)
    for key, circuit, ran_s, co2_nl_min_s, unweighed_s in loads(connection, keyed):
        found[key][circuit] = Load(int(ran_s), int(co2_nl_min_s), int(unweighed_s))
    return found


def used(connection: Connection, spans: Iterable[Span]) -> dict[Key, Use]:
    """What flowed in the cases of each span that ended after its begin, whole cases; each case's
    liquid is rounded up to a microlitre."""
    picked, keys = picked_cases(spans)
    if picked is None:
        return {}
    each = _each_case(picked)
    told = and_(each.c.settings > 0, each.c.settings == each.c.told)
    agent_ul = (each.c.vapour + each.c.per_ul - 1) // each.c.per_ul
    query = select(
        each.c.key,
        func.sum(when((told, agent_ul), else_=0)).label("agent_ul"),
        func.sum(when((told, each.c.flow), else_=0)).label("flow_nl_min_s"),
        func.sum(when((told, 0), else_=1)).label("untold_cases"),
    ).group_by(each.c.key)
    return {
        keys[row.key]: Use(
            int(row.agent_ul) * MICROLITRE,
            Decimal(int(row.flow_nl_min_s)) / (60 * 1000 * NL_PER_ML),
            int(row.untold_cases),
        )
        for row in connection.execute(query)
    }


@dataclass(frozen=True, slots=True)
class CaseUse:
    """What one case of a span took: seconds of use by circuit; carbon dioxide in nL/min, None
    without a weight; liquid agent in microlitres and oxygen in nL/min times seconds, None where the
    case told no flow or dial."""

    key: Key
    began_s: int
    ran_s: int
    circuit: str
    co2_nl_min: int | None
    agent_ul: int | None
    flow_nl_min_s: int | None


def uses(connection: Connection, spans: Iterable[Span]) -> list[CaseUse]:
    """Every case of each span by itself, in order of time."""
    picked, keys = picked_cases(spans)
    if picked is None:
        return []
    more = (picked.c.began_s, picked.c.end_s, picked.c.circuit, picked.c.co2_nl_min)
    each = _each_case(picked, *more)
    found = []
    for row in connection.execute(select(each).order_by(each.c.began_s)):
        told = 0 < row.settings == row.told
        found.append(
            CaseUse(
                keys[row.key], row.began_s, row.end_s - row.began_s, row.circuit, row.co2_nl_min,
                int(row.vapour + row.per_ul - 1) // row.per_ul if told else None,
                int(row.flow) if told else None,
            )
        )  # fmt: skip
    return found


def _each_case(picked: Subquery, *more: ColumnElement[Any]) -> Subquery:
    """The flows of each case; settings told at its end replace those told before."""
    ran_s = picked.c.end_s - picked.c.began_s
    to_s = least(func.coalesce(segment.c.to_s, ran_s), ran_s)
    lasted_s = greatest(to_s - segment.c.from_s, 0)
    flow = greatest(segment.c.flow_nl_min, 1)
    vapour = in_thin_air(segment.c.vapour_pl_min, flow, picked.c.thin_ppm)
    return (
        select(
            picked.c.key,
            picked.c.per_ul,
            func.sum(lasted_s * vapour).label("vapour"),
            func.sum(lasted_s * segment.c.flow_nl_min).label("flow"),
            func.count(segment.c.n).label("settings"),
            func.count(segment.c.vapour_pl_min).label("told"),
            *more,
        )
        .select_from(picked.outerjoin(segment, segment.c.entry == told_by(picked)))
        .group_by(picked.c.key, picked.c.per_ul, picked.c.entry, *more)
        .subquery()
    )
