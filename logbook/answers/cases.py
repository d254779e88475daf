"""The cases, each with what stood against its machine when it began."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Connection, Row, Select, func, select

from logbook.answers.case_flags import case_flags
from logbook.answers.finding import CaseFinding
from logbook.answers.item import Asked, ask_in
from logbook.answers.moment import Moment
from logbook.answers.recorded import LATE, Recorded, recorded, recorded_before
from logbook.answers.register import Register
from logbook.ledger.schema import entry, reference
from logbook.projections.lookup import VaporizerView, case_ended, position
from logbook.projections.tables import case, case_end, correction, segment
from logbook.times import utc_from_epoch_s


@dataclass(frozen=True, slots=True)
class Setting:
    """A stretch of a case: seconds (None: to the end), flow in mL/min, dial in percent."""

    duration_s: int | None
    flow_ml_min: Decimal | None
    dial_percent: Decimal | None


@dataclass(frozen=True, slots=True)
class CaseFacts:
    """A case as recorded; ``ended_at`` and ``ran_s`` are None while it runs."""

    entry: int
    machine: str
    began_at: datetime
    ended_at: datetime | None
    ran_s: int | None
    circuit: str
    vaporizers: list[str]
    weight_g: Decimal | None
    species: str | None
    settings: list[Setting]
    reference: str | None
    by: str
    corrected_by: int | None


@dataclass(frozen=True, slots=True)
class CaseLine(CaseFacts):
    """A case with how late it was recorded, and what stood against the machine or its vaporizers
    at its begin."""

    recorded: Recorded
    flags: list[CaseFinding]


Flags = Mapping[int, Sequence[CaseFinding]]
"""What stood against cases when they began, by their entries."""


def case_list(
    connection: Connection, moment: Moment, since_s: int, machine: str | None = None,
    flags: Flags | None = None,
) -> list[CaseLine]:  # fmt: skip
    """The cases that began from ``since_s`` up to the moment, in order of their begin.

    Their ``flags`` are worked out unless they were before.
    """
    fixed = select(func.max(correction.c.entry)).where(correction.c.corrects == case.c.entry)
    query = (
        select(
            case,
            case_ended().label("end_s"),
            fixed.scalar_subquery().label("fix"),
            entry.c.happened_at,
            entry.c.recorded_at,
            recorded_before(),
            func.coalesce(case.c.reference, reference.c.reference).label("told_reference"),
        )
        .join(entry, entry.c.seq == case.c.entry)
        .outerjoin(reference, reference.c.digest == case.c.reference_digest)
        .where(case.c.began_s >= since_s, case.c.began_s <= moment.at_s)
        .order_by(case.c.began_s, case.c.entry)
    )
    if machine is not None:
        query = query.where(case.c.machine == machine)
    register = Register(connection)
    asked = ask_in(register, moment)
    rows = connection.execute(query).all()
    settings = _settings(connection, query)
    since = register.clinic.since
    if flags is None:
        flags = case_flags(register, moment, since_s, moment.at_s + 1, machine)
    return [
        _line(asked, row, settings.get(row.entry, []), flags.get(row.entry, []), since)
        for row in rows
    ]


def _settings(connection: Connection, cases: Select[Any]) -> dict[int, list[Setting]]:
    """The settings of each case in order; those told at its end replace those told before."""
    chosen = cases.subquery()
    at_begin = select(segment, chosen.c.entry.label("case_entry")).join(
        chosen, segment.c.entry == chosen.c.entry
    )
    at_end = (
        select(segment, case_end.c.case_entry)
        .join(case_end, case_end.c.entry == segment.c.entry)
        .join(chosen, chosen.c.entry == case_end.c.case_entry)
    )
    told: dict[int, list[Setting]] = {}
    for source in (at_begin, at_end):
        found: dict[int, list[Setting]] = {}
        for row in connection.execute(source.order_by(segment.c.entry, segment.c.n)):
            setting = Setting(row.duration_s, row.flow_ml_min, row.dial_percent)
            found.setdefault(row.case_entry, []).append(setting)
        told |= found
    return told


def _vaporizers_of(asked: Asked, row: Row[Any]) -> list[VaporizerView]:
    """The vaporizer that a case names; else every one on its machine when it began."""
    if row.vaporizer is not None:
        named = asked.vaporizers.get(row.vaporizer)  # Of one that nobody brought nothing is known.
        return [named] if named else []
    return [
        view
        for tag, view in asked.vaporizers.items()
        if position(asked.stays.get(tag, []), row.began_s) == row.machine
    ]


def _line(
    asked: Asked, row: Row[Any], settings: list[Setting], flags: Sequence[CaseFinding], since: date
) -> CaseLine:
    return CaseLine(
        entry=row.entry,
        machine=row.machine,
        began_at=utc_from_epoch_s(row.began_s),
        ended_at=utc_from_epoch_s(row.end_s) if row.end_s else None,
        ran_s=row.end_s - row.began_s if row.end_s else None,
        circuit=row.circuit,
        vaporizers=[view.vaporizer for view in _vaporizers_of(asked, row)],
        weight_g=row.weight_g,
        species=row.species,
        settings=settings,
        reference=row.told_reference,
        by=row.by,
        corrected_by=row.fix,
        recorded=recorded(
            row.happened_at,
            row.recorded_at,
            row.recorded_before,
            asked.rules.clinic[LATE],
            row.ended_s,
        ).taken_over(
            asked.moment.day_of(row.began_s),
            since,
        ),
        flags=list(flags),
    )
