"""The cases, each with what stood against its machine when it began."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, Row, func, select

from logbook.answers.absorbent import absorbent_items
from logbook.answers.agent import segments_of, vaporizers_of
from logbook.answers.charcoal import charcoal_items
from logbook.answers.item import Asked, ask
from logbook.answers.moment import Moment, moment_at
from logbook.answers.recorded import Recorded, recorded, recorded_before
from logbook.answers.service import service_items
from logbook.answers.service_state import check_today, open_faults
from logbook.ledger.schema import entry
from logbook.projections.lookup import case_ended
from logbook.projections.tables import case, correction
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
    settings = segments_of(asked, [row.entry for row in rows])
    return [_line(asked, row, settings.get(row.entry, [])) for row in rows]


def _line(asked: Asked, row: Row[Any], settings: list[Row[Any]]) -> CaseLine:
    return CaseLine(
        entry=row.entry,
        machine=row.machine,
        began_at=utc_from_epoch_s(row.began_s),
        ended_at=utc_from_epoch_s(row.end_s) if row.end_s else None,
        ran_s=row.end_s - row.began_s if row.end_s else None,
        circuit=row.circuit,
        vaporizers=[view.vaporizer for view in vaporizers_of(asked, row)],
        weight_g=row.weight_g,
        species=row.species,
        settings=[Setting(s.duration_s, s.flow_ml_min, s.dial_percent) for s in settings],
        reference=row.reference,
        by=row.by,
        corrected_by=row.fix,
        recorded=recorded(row.happened_at, row.recorded_at, row.recorded_before),
        flags=flags_at(
            asked.connection, asked.moment.zone, row.machine, row.began_s, row.vaporizer
        ),
    )


def flags_at(
    connection: Connection, zone: ZoneInfo, machine: str, at_s: int, vaporizer: str | None = None
) -> list[str]:
    """What stood at an instant against a machine and the vaporizers on it, or against the one
    that a case names: check, faults, absorbent, charcoal, service."""
    asked = ask(connection, moment_at(utc_from_epoch_s(at_s), zone))
    used = {
        tag: view
        for tag, view in asked.vaporizers.items()
        if view.machine == machine or tag == vaporizer
    }
    machines = {tag: view for tag, view in asked.machines.items() if tag == machine}
    then = replace(asked, machines=machines, vaporizers=used)
    return [*_check_flags(then, machine), *_fault_flags(then, machine), *_due_flags(then)]


def _check_flags(asked: Asked, machine: str) -> Iterator[str]:
    done = check_today(asked.connection, machine, asked.moment)
    if done is None:
        yield f"no daily check of {machine} that day before the case"
    elif done.verdict != "passed":
        yield f"daily check {done.verdict} (entry {done.entry})"


def _fault_flags(asked: Asked, machine: str) -> Iterator[str]:
    for unit in (machine, *asked.vaporizers):
        for fault in open_faults(asked.connection, unit, asked.moment.at_s):
            yield fault.sentence(asked.moment.zone)


def _due_flags(asked: Asked) -> Iterator[str]:
    items = service_items(asked)
    for view in asked.machines.values():
        items = absorbent_items(asked, view) + charcoal_items(asked, view) + items
    for item in items:
        recorded = item.standing != "no record" or item.item == "absorbent"
        if item.standing not in ("ok", "due soon") and recorded:
            known = item.standing != "no record"
            yield f"{item.standing}: {item.sentence}" if known else item.sentence
