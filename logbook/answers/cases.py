"""The cases, each with what stood against its machine when it began."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, Row, Select, func, select

from logbook.answers.absorbent import absorbent_items
from logbook.answers.charcoal import charcoal_items
from logbook.answers.item import Asked, ask, ask_about
from logbook.answers.moment import Moment, moment_at
from logbook.answers.recorded import Recorded, recorded, recorded_before
from logbook.answers.service import service_items
from logbook.answers.standing import ATTENTION, Standing
from logbook.ledger.schema import entry
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
class CaseLine:
    """A case as recorded; ``ended_at`` and ``ran_s`` are None while it runs.

    ``flags`` are sentences on what stood against the machine or its vaporizers at its begin.
    """

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
    recorded: Recorded
    flags: list[str]


def case_list(
    connection: Connection, moment: Moment, since_s: int, machine: str | None = None
) -> list[CaseLine]:
    """The cases that began from ``since_s`` up to the moment, in order of their begin."""
    fixed = select(func.max(correction.c.entry)).where(correction.c.corrects == case.c.entry)
    query = (
        select(
            case,
            case_ended().label("end_s"),
            entry.c.by,
            fixed.scalar_subquery().label("fix"),
            entry.c.happened_at,
            entry.c.recorded_at,
            recorded_before(),
        )
        .join(entry, entry.c.seq == case.c.entry)
        .where(case.c.began_s >= since_s, case.c.began_s <= moment.at_s)
        .order_by(case.c.began_s, case.c.entry)
    )
    if machine is not None:
        query = query.where(case.c.machine == machine)
    asked = ask(connection, moment)
    rows = connection.execute(query).all()
    settings = _settings(connection, query)
    lines = []
    for row in rows:
        flags = flags_at(connection, moment.zone, row.machine, row.began_s, row.vaporizer)
        lines.append(_line(asked, row, settings.get(row.entry, []), flags))
    return lines


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


def _line(asked: Asked, row: Row[Any], settings: list[Setting], flags: list[str]) -> CaseLine:
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
        reference=row.reference,
        by=row.by,
        corrected_by=row.fix,
        recorded=recorded(row.happened_at, row.recorded_at, row.recorded_before),
        flags=flags,
    )


def flags_at(
    connection: Connection, zone: ZoneInfo, machine: str, at_s: int, vaporizer: str | None = None
) -> list[str]:
    """What stood at an instant against a machine and the vaporizers on it, or against the one
    that a case names: check, faults, absorbent, charcoal, service."""
    moment = moment_at(utc_from_epoch_s(at_s), zone)
    then = ask_about(connection, moment, machine, [vaporizer])
    return [*_check_flags(then, machine), *_fault_flags(then, machine), *_due_flags(then)]


def _check_flags(asked: Asked, machine: str) -> Iterator[str]:
    done = asked.known.check_today(machine)
    if done is None:
        yield f"no daily check of {machine} that day before the case"
    elif done.verdict != "passed":
        yield f"daily check {done.verdict} (entry {done.entry})"


def _fault_flags(asked: Asked, machine: str) -> Iterator[str]:
    for unit in (machine, *asked.vaporizers):
        for fault in asked.known.faults.get(unit, []):
            yield fault.sentence(asked.moment.zone)


def _due_flags(asked: Asked) -> Iterator[str]:
    items = service_items(asked)
    for view in asked.machines.values():
        items = absorbent_items(asked, view) + charcoal_items(asked, view) + items
    for item in items:
        if item.standing is Standing.NO_RECORD:
            if item.item == "absorbent":
                yield item.sentence
        elif item.standing in ATTENTION:
            yield f"{item.standing}: {item.sentence}"
