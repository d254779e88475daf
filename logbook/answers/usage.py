"""How long things ran. Sums are made when they are asked for, from the cases as they stand, so a
late or corrected case needs no special care."""

from collections.abc import Collection
from decimal import Decimal
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, select

from logbook.projections.lookup import Stay, case_ended
from logbook.projections.tables import case
from logbook.vocabulary import LONGEST_CASE_S

LOADS_ABSORBENT = ("adult rebreathing", "pediatric rebreathing", "unknown")
"""Circuits whose cases load the absorbent; an unknown circuit errs early."""


def run_s(
    connection: Connection,
    since_s: int,
    until_s: int,
    *conditions: ColumnElement[Any],
) -> int:
    """Seconds that the cases meeting the conditions ran between two instants.

    A case that is still running counts up to ``until_s``, yet never beyond the longest case, so
    that a forgotten end does not count for weeks.
    """
    overlap, ran = _overlap(since_s, until_s)
    query = select(func.coalesce(func.sum(overlap), 0)).where(*conditions, *ran)
    return int(connection.execute(query).scalar_one())


def _overlap(since_s: int, until_s: int) -> tuple[ColumnElement[Any], list[ColumnElement[Any]]]:
    """The seconds of a case between two instants, and the conditions that there are any."""
    ended = func.coalesce(case_ended(), case.c.began_s + LONGEST_CASE_S)
    overlap = func.min(ended, until_s) - func.max(case.c.began_s, since_s)
    after = case.c.began_s > since_s - LONGEST_CASE_S
    return overlap, [after, case.c.began_s < until_s, ended > since_s]


def run_s_by_weight(
    connection: Connection, machine: str, since_s: int, until_s: int, circuits: Collection[str]
) -> dict[Decimal | None, int]:
    """Seconds that a machine ran for each weight of patient in grams; None where it was not told.

    Summed by weight, because a year of cases has far fewer weights than cases.
    """
    overlap, ran = _overlap(since_s, until_s)
    query = select(case.c.weight_g, func.sum(overlap)).where(case.c.machine == machine, *ran)
    grouped = query.where(case.c.circuit.in_(circuits)).group_by(case.c.weight_g)
    return {weight_g: int(seconds) for weight_g, seconds in connection.execute(grouped)}


def machine_run_s(connection: Connection, machine: str, since_s: int, until_s: int) -> int:
    """Seconds that a machine ran, on any circuit."""
    return run_s(connection, since_s, until_s, case.c.machine == machine)


def vaporizer_run_s(
    connection: Connection, vaporizer: str, stays: list[Stay], since_s: int, until_s: int
) -> int:
    """Seconds that a vaporizer ran: the cases that name it, and those that name none and began on
    the machine on which it stood."""
    total = run_s(connection, since_s, until_s, case.c.vaporizer == vaporizer)
    for from_s, to_s, machine in stretches(stays, until_s):
        began_there = case.c.began_s.between(from_s, to_s - 1)
        on_it = (case.c.machine == machine, case.c.vaporizer.is_(None), began_there)
        total += run_s(connection, since_s, until_s, *on_it)
    return total


def stretches(stays: list[Stay], until_s: int) -> list[tuple[int, int, str]]:
    """The stays on machines as (from, to, machine), ``to`` excluded."""
    ends = [from_s for from_s, _ in [*stays, (until_s, None)]][1:]
    return [
        (from_s, to_s, machine)
        for (from_s, machine), to_s in zip(stays, ends, strict=True)
        if machine is not None
    ]
