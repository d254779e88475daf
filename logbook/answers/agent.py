"""Liquid agent: how much a vaporizer used, and how much is probably left."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import ColumnElement, Row, select

from logbook.answers.item import Asked
from logbook.answers.usage import stretches
from logbook.arithmetic.agent import Segment, liquid_used_ml
from logbook.projections.lookup import VaporizerView, case_ended, position
from logbook.projections.tables import agent_level, case, case_end, segment
from logbook.times import utc_from_epoch_s
from logbook.vocabulary import LONGEST_CASE_S


@dataclass(frozen=True, slots=True)
class AgentUse:
    """Liquid used in mL, and how many cases told no flow or dial, so that it is a lower bound."""

    used_ml: Decimal
    untold_cases: int


@dataclass(frozen=True, slots=True)
class AgentLeft:
    """The estimate: the last level less the use since; None without a level on record."""

    left_ml: Decimal | None
    last_at: datetime | None
    used_ml: Decimal
    untold_cases: int
    low: bool


def agent_left(asked: Asked, view: VaporizerView) -> AgentLeft:
    """What is probably left in a vaporizer at the moment asked for.

    A fill that tells only what was added stands on the estimate before it.
    """
    table = agent_level
    query = select(table).where(
        table.c.vaporizer == view.vaporizer, table.c.at_s <= asked.moment.at_s
    )
    rows = asked.connection.execute(query.order_by(table.c.at_s.desc(), table.c.entry.desc()))
    added_ml = Decimal(0)
    for row in rows:
        if row.level_ml is not None:
            use = vaporizer_use(asked, view, row.at_s)
            left_ml = max(row.level_ml + added_ml - use.used_ml, Decimal(0))
            low = view.low_mark_ml is not None and left_ml <= view.low_mark_ml
            since = utc_from_epoch_s(row.at_s)
            return AgentLeft(left_ml, since, use.used_ml, use.untold_cases, low)
        added_ml += row.added_ml or 0
    return AgentLeft(None, None, Decimal(0), 0, low=False)


def vaporizer_use(asked: Asked, view: VaporizerView, since_s: int) -> AgentUse:
    """What a vaporizer used since an instant, in the cases that ended after it."""
    tag, until_s = view.vaporizer, asked.moment.at_s
    cases = list(_cases(asked, since_s, case.c.vaporizer == tag))
    for from_s, to_s, machine in stretches(asked.stays.get(tag, []), until_s):
        began_there = case.c.began_s.between(from_s, to_s - 1)
        on_it = (case.c.machine == machine, case.c.vaporizer.is_(None), began_there)
        cases += _cases(asked, since_s, *on_it)
    return _use(asked, [(row, view.agent) for row in cases])


def machine_agent_ml(asked: Asked, machine: str, since_s: int) -> Decimal:
    """What went through a machine since an instant, from whichever vaporizers stood on it."""
    told = []
    for row in cases_on(asked, machine, since_s):
        for view in vaporizers_of(asked, row):
            told.append((row, view.agent))
    return _use(asked, told).used_ml


def cases_on(asked: Asked, machine: str, since_s: int) -> list[Row[Any]]:
    """The cases of a machine that ended after an instant or still run."""
    return _cases(asked, since_s, case.c.machine == machine)


def vaporizers_of(asked: Asked, row: Row[Any]) -> list[VaporizerView]:
    """The vaporizer that a case names; else every one on its machine when it began, which counts
    the agent of both where two were fitted and nobody said which: it errs early."""
    if row.vaporizer is not None:
        named = asked.vaporizers.get(row.vaporizer)  # Of one that nobody brought nothing is known.
        return [named] if named else []
    return [
        view
        for tag, view in asked.vaporizers.items()
        if position(asked.stays.get(tag, []), row.began_s) == row.machine
    ]


def _cases(asked: Asked, since_s: int, *conditions: ColumnElement[Any]) -> list[Row[Any]]:
    ended = case_ended()
    query = select(case, ended.label("end_s")).where(
        *conditions,
        case.c.began_s > since_s - LONGEST_CASE_S,
        case.c.began_s < asked.moment.at_s,
        (ended > since_s) | ended.is_(None),
    )
    return list(asked.connection.execute(query))


def _use(asked: Asked, cases: list[tuple[Row[Any], str]]) -> AgentUse:
    told = timed_segments_of(asked, [row for row, _ in cases])
    used_ml, untold = Decimal(0), 0
    for (_, agent), timed in zip(cases, told, strict=True):
        if timed is None:
            untold += 1
        elif timed:
            used_ml += liquid_used_ml(agent, timed)
    return AgentUse(used_ml, untold)


def timed_segments_of(asked: Asked, cases: list[Row[Any]]) -> list[list[Segment] | None]:
    """The settings of each case with their seconds, in the order of the cases."""
    segments = segments_of(asked, [row.entry for row in cases])
    timed = []
    for row in cases:
        end_s = min(row.end_s or row.began_s + LONGEST_CASE_S, asked.moment.at_s)
        timed.append(timed_segments(segments.get(row.entry, []), end_s - row.began_s))
    return timed


def timed_segments(rows: list[Row[Any]], ran_s: int) -> list[Segment] | None:
    """The settings of a case with their seconds; None where flow or dial was not told."""
    if not rows or any(row.flow_ml_min is None or row.dial_percent is None for row in rows):
        return None
    seconds, left_s = [], ran_s
    for row in rows:
        seconds.append(min(row.duration_s or 0, left_s))
        left_s -= seconds[-1]
    # Where the segments do not reach the end, the last setting is taken to have stayed.
    seconds[-1] += left_s
    return [
        Segment(lasted_s, row.flow_ml_min, row.dial_percent)
        for lasted_s, row in zip(seconds, rows, strict=True)
        if lasted_s and row.flow_ml_min
    ]


def segments_of(asked: Asked, entries: list[int]) -> dict[int, list[Row[Any]]]:
    """The segments of each case in order; those told at its end replace those told before."""
    told: dict[int, list[Row[Any]]] = {}
    for source in (_segments_at_begin, _segments_at_end):
        found: dict[int, list[Row[Any]]] = defaultdict(list)
        for start in range(0, len(entries), 500):
            for row in asked.connection.execute(source(entries[start : start + 500])):
                found[row.case_entry].append(row)
        told |= found
    return told


def _segments_at_begin(entries: list[int]) -> Any:
    query = select(segment, segment.c.entry.label("case_entry"))
    return query.where(segment.c.entry.in_(entries)).order_by(segment.c.entry, segment.c.n)


def _segments_at_end(entries: list[int]) -> Any:
    query = select(segment, case_end.c.case_entry)
    joined = query.join(case_end, case_end.c.entry == segment.c.entry)
    return joined.where(case_end.c.case_entry.in_(entries)).order_by(segment.c.entry, segment.c.n)
