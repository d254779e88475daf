"""The cases of any number of spans of time, picked and added up with one statement.

On a machine the cases of each circuit lie together in an index, so that nothing is sorted: of
200,000 cases since one change of absorbent the sorting took as long as the sums.
"""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import (
    CTE,
    ColumnElement,
    Connection,
    Select,
    Subquery,
    and_,
    column,
    func,
    or_,
    select,
    true,
    union_all,
    values,
)
from sqlalchemy import (
    case as when,
)

from logbook.ledger.columns import Label, Whole
from logbook.ledger.expressions import greatest, least
from logbook.projections.lookup import case_ended
from logbook.projections.tables import case, case_end, segment
from logbook.vocabulary import CIRCUITS, LONGEST_CASE_S

if TYPE_CHECKING:
    from logbook.answers.spans import Span

EVERY, NAMED, UNNAMED = "every", "named", "unnamed"
Key = Hashable
_Row = tuple[Any, ...]
Loaded = tuple[Key, str, int, int, int]
"""The key of a span, a circuit, and what ran on it: seconds, carbon dioxide in nL/min times
seconds, and seconds without a weight."""


def loads(connection: Connection, spans: "Iterable[Span]") -> Iterator[Loaded]:
    """What ran in each span, by circuit; nothing of a circuit on which nothing ran."""
    machines, vaporizers, keys = _rows(spans)
    queries = []
    if machines:
        queries.append(_on_machines(machines))
    if vaporizers:
        queries.append(_with_vaporizers(vaporizers))
    if queries:
        for number, circuit, *sums in connection.execute(union_all(*queries)):
            if sums[0]:
                yield keys[number], circuit, *map(int, sums)


def _on_machines(rows: Sequence[_Row]) -> Select[Any]:
    """Each sum of each circuit by itself, along the index that begins with machine and circuit."""
    span = _table("machine_span", rows)
    circuits = values(column("circuit", Label), name="circuits", literal_binds=True)
    every = circuits.data([(one,) for one in CIRCUITS.values()]).cte("every_circuit")
    on_it = (case.c.machine == span.c.unit, case.c.circuit == every.c.circuit)
    sums = (
        select(one).where(*on_it, *_began_in(span), _whose(span)).correlate(span, every)
        for one in _sums(span)
    )
    each = (one.scalar_subquery() for one in sums)
    return select(span.c.key, every.c.circuit, *each).select_from(span.join(every, true()))


def _with_vaporizers(rows: Sequence[_Row]) -> Select[Any]:
    span = _table("vaporizer_span", rows)
    return (
        select(span.c.key, case.c.circuit, *_sums(span))
        .where(case.c.vaporizer == span.c.unit, *_began_in(span))
        .group_by(span.c.key, case.c.circuit)
    )


def _sums(span: CTE) -> tuple[ColumnElement[Any], ...]:
    """Seconds, carbon dioxide in nL/min times seconds, and seconds without a weight."""
    end_s = least(_ended(), span.c.until_s)
    ran_s = greatest(end_s - greatest(case.c.began_s, span.c.since_s), 0)
    unweighed_s = when((case.c.co2_nl_min.is_(None), ran_s))
    each = (ran_s, ran_s * case.c.co2_nl_min, unweighed_s)
    return tuple(func.coalesce(func.sum(one), 0) for one in each)


def _began_in(span: CTE) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    return case.c.began_s >= span.c.from_s, case.c.began_s < span.c.to_s


def _whose(span: CTE) -> ColumnElement[bool]:
    return or_(
        span.c.whose == EVERY,
        and_(span.c.whose == UNNAMED, case.c.vaporizer.is_(None)),
        case.c.vaporizer == span.c.vaporizer,
    )


def _ended() -> ColumnElement[Any]:
    return func.coalesce(case_ended(), case.c.began_s + LONGEST_CASE_S)


def told_by(picked: Subquery) -> ColumnElement[Any]:
    """The entry that told the settings of a case: its own, or the last end that told any."""
    later = (
        select(func.max(case_end.c.entry))
        .join(segment, segment.c.entry == case_end.c.entry)
        .where(case_end.c.case_entry == picked.c.entry)
        .correlate(picked)
        .scalar_subquery()
    )
    return when((picked.c.live, func.coalesce(later, picked.c.entry)), else_=picked.c.entry)


def picked_cases(spans: "Iterable[Span]") -> tuple[Subquery | None, list[Key]]:
    """The cases of each span with its number, and the keys by number."""
    machines, vaporizers, keys = _rows(spans)
    parts = []
    if machines:
        table = _table("machine_span", machines)
        parts.append(_cases(table).where(case.c.machine == table.c.unit, _whose(table)))
    if vaporizers:
        table = _table("vaporizer_span", vaporizers)
        parts.append(_cases(table).where(case.c.vaporizer == table.c.unit))
    return (union_all(*parts).subquery() if parts else None), keys


def _rows(spans: "Iterable[Span]") -> tuple[list[_Row], list[_Row], list[Key]]:
    """The spans of machines and those of vaporizers with a number for each key, and the keys."""
    numbers: dict[Key, int] = {}
    machines: list[_Row] = []
    vaporizers: list[_Row] = []
    for span in spans:
        number = numbers.setdefault(span.key, len(numbers))
        unit = span.machine or span.vaporizer
        row = (
            number, unit, span.whose, span.vaporizer or "", span.from_s, span.to_s, span.since_s,
            span.until_s, *span.vaporizing,
        )  # fmt: skip
        (vaporizers if span.machine is None else machines).append(row)
    return machines, vaporizers, list(numbers)


def _table(name: str, rows: Sequence[_Row]) -> CTE:
    columns = (
        column("key", Whole), column("unit", Label), column("whose", Label),
        column("vaporizer", Label), column("from_s", Whole), column("to_s", Whole),
        column("since_s", Whole), column("until_s", Whole), column("per_ul", Whole),
        column("thin_ppm", Whole),
    )  # fmt: skip
    return values(*columns, name=f"{name}s", literal_binds=True).data(list(rows)).cte(name)


def _cases(span: CTE) -> Select[Any]:
    return select(
        span.c.key,
        span.c.since_s,
        span.c.per_ul,
        span.c.thin_ppm,
        case.c.entry,
        case.c.circuit,
        case.c.co2_nl_min,
        case.c.weight_g,
        case.c.began_s,
        case.c.ended_s.is_(None).label("live"),
        least(_ended(), span.c.until_s).label("end_s"),
    ).where(*_began_in(span), _ended() > span.c.since_s)
