"""How long things ran and what flowed, in any number of spans of time with one statement.

Sums are made when they are asked for, from the cases as they stand, so a late or corrected case
needs no special care; a case that still runs counts up to the moment, yet never beyond the longest
case, so that a forgotten end does not count for weeks.
"""

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from sqlalchemy import (
    CTE,
    Connection,
    Select,
    Subquery,
    and_,
    column,
    func,
    or_,
    select,
    union_all,
    values,
)
from sqlalchemy import (
    case as when,
)

from logbook.arithmetic.agent import MICROLITRE, NL_PER_ML, seconds_pl_min_per_ul
from logbook.ledger.columns import Label, Whole
from logbook.ledger.expressions import greatest, least
from logbook.projections.lookup import Stay, VaporizerView, case_ended
from logbook.projections.tables import case, case_end, segment
from logbook.vocabulary import LONGEST_CASE_S

LOADS_ABSORBENT = ("adult rebreathing", "pediatric rebreathing", "unknown")
"""Circuits whose cases load the absorbent; an unknown circuit errs early."""
EVERY, NAMED, UNNAMED = "every", "named", "unnamed"
Key = Hashable


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
    pl_min_s_per_ul: int = 1


def on_machine(key: Key, machine: str, since_s: int, until_s: int) -> Span:
    """Every case of a machine."""
    return Span(key, machine, None, EVERY, since_s - LONGEST_CASE_S + 1, until_s, since_s, until_s)


def with_vaporizer(
    key: Key, view: VaporizerView, stays: list[Stay], since_s: int, until_s: int
) -> Iterator[Span]:
    """The cases that name a vaporizer, and those that name none and began where it stood."""
    first_s, per_ul = since_s - LONGEST_CASE_S + 1, seconds_pl_min_per_ul(view.agent)
    tag = view.vaporizer
    yield Span(key, None, tag, NAMED, first_s, until_s, since_s, until_s, per_ul)
    for from_s, to_s, machine in stretches(stays, until_s):
        if to_s > first_s:
            began = (max(from_s, first_s), to_s)
            yield Span(key, machine, None, UNNAMED, *began, since_s, until_s, per_ul)


def through_machine(
    whole: Span, vaporizers: Mapping[str, VaporizerView], stays: Mapping[str, list[Stay]]
) -> Iterator[Span]:
    """The cases of a machine's span with whichever vaporizer each of them used; where two were
    fitted and nobody said which, it counts for both: that errs early."""
    for tag, view in vaporizers.items():
        per_ul = seconds_pl_min_per_ul(view.agent)
        yield replace(whole, vaporizer=tag, whose=NAMED, pl_min_s_per_ul=per_ul)
        for from_s, to_s, place in stretches(stays.get(tag, []), whole.until_s):
            if place == whole.machine and to_s > whole.from_s:
                yield replace(
                    whole, whose=UNNAMED, from_s=max(from_s, whole.from_s), to_s=to_s,
                    pl_min_s_per_ul=per_ul,
                )  # fmt: skip


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


def ran(connection: Connection, spans: Iterable[Span]) -> dict[Key, Ran]:
    """What ran in each span; those of one key are added up."""
    picked, keys = _picked(spans)
    if picked is None:
        return {}
    overlap = picked.c.end_s - greatest(picked.c.began_s, picked.c.since_s)
    query = select(
        picked.c.key,
        picked.c.circuit,
        func.sum(overlap).label("ran_s"),
        func.sum(overlap * func.coalesce(picked.c.co2_nl_min, 0)).label("co2"),
        func.sum(when((picked.c.co2_nl_min.is_(None), overlap), else_=0)).label("unweighed_s"),
    ).group_by(picked.c.key, picked.c.circuit)
    found: dict[Key, dict[str, Load]] = {}
    for row in connection.execute(query):
        load = Load(int(row.ran_s), int(row.co2), int(row.unweighed_s))
        found.setdefault(keys[row.key], {})[row.circuit] = load
    return {key: Ran(loads) for key, loads in found.items()}


def used(connection: Connection, spans: Iterable[Span]) -> dict[Key, Use]:
    """What flowed in the cases of each span that ended after its begin, whole cases; each case's
    liquid is rounded up to a microlitre."""
    picked, keys = _picked(spans)
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


def _each_case(picked: Subquery) -> Subquery:
    """The flows of each case; settings told at its end replace those told before."""
    later = (
        select(func.max(case_end.c.entry))
        .join(segment, segment.c.entry == case_end.c.entry)
        .where(case_end.c.case_entry == picked.c.entry)
        .correlate(picked)
        .scalar_subquery()
    )
    told_by = when((picked.c.live, func.coalesce(later, picked.c.entry)), else_=picked.c.entry)
    ran_s = picked.c.end_s - picked.c.began_s
    to_s = least(func.coalesce(segment.c.to_s, ran_s), ran_s)
    lasted_s = greatest(to_s - segment.c.from_s, 0)
    return (
        select(
            picked.c.key,
            picked.c.per_ul,
            func.sum(lasted_s * segment.c.vapour_pl_min).label("vapour"),
            func.sum(lasted_s * segment.c.flow_nl_min).label("flow"),
            func.count(segment.c.n).label("settings"),
            func.count(segment.c.vapour_pl_min).label("told"),
        )
        .select_from(picked.outerjoin(segment, segment.c.entry == told_by))
        .group_by(picked.c.key, picked.c.per_ul, picked.c.entry)
        .subquery()
    )


def _picked(spans: Iterable[Span]) -> tuple[Subquery | None, list[Key]]:
    """The cases of each span with its number, and the keys by number."""
    numbers: dict[Key, int] = {}
    machines: list[tuple[Any, ...]] = []
    vaporizers: list[tuple[Any, ...]] = []
    for span in spans:
        number = numbers.setdefault(span.key, len(numbers))
        unit = span.machine or span.vaporizer
        row = (
            number, unit, span.whose, span.vaporizer or "", span.from_s, span.to_s, span.since_s,
            span.until_s, span.pl_min_s_per_ul,
        )  # fmt: skip
        (vaporizers if span.machine is None else machines).append(row)
    parts = []
    if machines:
        table = _table("machine_span", machines)
        whose = or_(
            table.c.whose == EVERY,
            and_(table.c.whose == UNNAMED, case.c.vaporizer.is_(None)),
            case.c.vaporizer == table.c.vaporizer,
        )
        parts.append(_cases(table).where(case.c.machine == table.c.unit, whose))
    if vaporizers:
        table = _table("vaporizer_span", vaporizers)
        parts.append(_cases(table).where(case.c.vaporizer == table.c.unit))
    return (union_all(*parts).subquery() if parts else None), list(numbers)


def _table(name: str, rows: list[tuple[Any, ...]]) -> CTE:
    columns = (
        column("key", Whole), column("unit", Label), column("whose", Label),
        column("vaporizer", Label), column("from_s", Whole), column("to_s", Whole),
        column("since_s", Whole), column("until_s", Whole), column("per_ul", Whole),
    )  # fmt: skip
    return values(*columns, name=f"{name}s", literal_binds=True).data(rows).cte(name)


def _cases(span: CTE) -> Select[Any]:
    ended = func.coalesce(case_ended(), case.c.began_s + LONGEST_CASE_S)
    return select(
        span.c.key,
        span.c.since_s,
        span.c.per_ul,
        case.c.entry,
        case.c.circuit,
        case.c.co2_nl_min,
        case.c.began_s,
        case.c.ended_s.is_(None).label("live"),
        least(ended, span.c.until_s).label("end_s"),
    ).where(case.c.began_s >= span.c.from_s, case.c.began_s < span.c.to_s, ended > span.c.since_s)
