"""How much of the carbon dioxide that patients breathed out reached the absorbent, as a range.

What the fresh gas blows out of the system never comes there. The bound that warns counts all of it;
this is the estimate that stands beside it, and it judges nothing.
"""

from collections.abc import Iterable, Mapping
from dataclasses import field
from decimal import ROUND_FLOOR, Decimal
from typing import Any

from sqlalchemy import ColumnElement, Connection, Numeric, Select, Subquery, cast, func, select
from sqlalchemy import case as when

from logbook.answers.picked import Key, picked_cases, told_by
from logbook.answers.spans import Load, Span
from logbook.arithmetic.agent import NL_PER_ML
from logbook.arithmetic.air import flowmeter_factor
from logbook.arithmetic.constants import REACHING
from logbook.ledger.expressions import greatest, least
from logbook.projections.tables import segment
from logbook.units import whole
from logbook.value import Value
from logbook.vocabulary import LONGEST_CASE_S

NOTHING = Decimal(0)
SURE = Decimal(100)


class Reached(Value):
    """From how many to how many litres, by circuit."""

    by_circuit: Mapping[str, tuple[Decimal, Decimal]] = field(default_factory=dict)

    def on(self, circuits: Iterable[str]) -> tuple[Decimal, Decimal]:
        """What reached it on some circuits."""
        found = [self.by_circuit[one] for one in circuits if one in self.by_circuit]
        low, high = (sum((one[at] for one in found), NOTHING) for at in (0, 1))
        return low, high


def reached(
    connection: Connection, spans: Iterable[Span], air_kpa: Decimal | None
) -> dict[Key, Reached]:
    """What reached the absorbent in each span, by the fresh gas that flowed in it.

    A case without a flow may have given all or nothing; one without a weight is left out. In thin
    air more may flow than was read, so that the least is of that, and the most of what was read.
    """
    picked, keys = picked_cases(spans)
    if picked is None:
        return {}
    found: dict[Key, dict[str, tuple[Decimal, Decimal]]] = {}
    for row in connection.execute(_by_step(picked, air_kpa)):
        litres = Load(co2_nl_min_s=int(row.co2)).co2_l
        of_key = found.setdefault(keys[row.key], {})
        low, high = of_key.get(row.circuit, (NOTHING, NOTHING))
        least_percent, most_percent = _share(row.flowed)[0], _share(row.read)[1]
        of_key[row.circuit] = (
            low + litres * least_percent / SURE, high + litres * most_percent / SURE
        )  # fmt: skip
    return {key: Reached(litres) for key, litres in found.items()}


def _share(step: int | None) -> tuple[Decimal, Decimal]:
    """From how many to how many percent of it come there."""
    if step is None:
        return NOTHING, SURE
    if step == len(REACHING):
        return NOTHING, NOTHING
    return REACHING[step].least_percent.value, REACHING[step].most_percent.value


def _step(picked: Subquery, reads_nl: int) -> ColumnElement[int]:
    """The step of fresh gas where a mL that flows reads as so many nL."""
    # A weight is kept as text, and 1 mL/kg is a thousandth of a mL for each gram.
    per_kg = cast(picked.c.weight_g, Numeric) * (reads_nl // 1000)
    below = [
        (segment.c.flow_nl_min < per_kg * int(step.below_ml_kg_min.value), n)
        for n, step in enumerate(REACHING)
    ]
    return when((segment.c.flow_nl_min.is_(None), None), *below, else_=len(REACHING))


def _by_step(picked: Subquery, air_kpa: Decimal | None) -> Select[Any]:
    """The carbon dioxide of each span and circuit, by the step of fresh gas that it came with: as
    was read, and as may have flowed."""
    in_thin_air = whole(NL_PER_ML / flowmeter_factor(air_kpa), ROUND_FLOOR)
    # Where the air is not known to be thin both are one step, which is worked out and sorted once.
    thin = in_thin_air != NL_PER_ML
    steps = [_step(picked, reads_nl) for reads_nl in (NL_PER_ML, in_thin_air)[: 1 + thin]]
    from_s = greatest(picked.c.began_s + func.coalesce(segment.c.from_s, 0), picked.c.since_s)
    ended_s = picked.c.began_s + func.coalesce(segment.c.to_s, LONGEST_CASE_S)
    lasted_s = greatest(least(ended_s, picked.c.end_s) - from_s, 0)
    rows = (
        select(
            picked.c.key,
            picked.c.circuit,
            *(one.label(name) for one, name in zip(steps, ("read", "flowed"), strict=False)),
            (lasted_s * picked.c.co2_nl_min).label("co2"),
        )
        .select_from(picked.outerjoin(segment, segment.c.entry == told_by(picked)))
        .where(picked.c.co2_nl_min.is_not(None))
        .subquery()
    )
    flowed = rows.c.flowed if thin else rows.c.read
    kinds = (rows.c.key, rows.c.circuit, rows.c.read, *([flowed] if thin else ()))
    told = (rows.c.key, rows.c.circuit, rows.c.read, flowed.label("flowed"))
    return select(*told, func.sum(rows.c.co2).label("co2")).group_by(*kinds)
