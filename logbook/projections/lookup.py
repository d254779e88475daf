"""Small questions that both recording and answering ask of the projected tables."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import (
    ColumnElement,
    CompoundSelect,
    Connection,
    Row,
    Select,
    Subquery,
    Table,
    bindparam,
    func,
    literal,
    or_,
    select,
    union,
    union_all,
)

from logbook.projections.tables import (
    case,
    case_end,
    check,
    clinic,
    correction,
    fitting,
    machine,
    mention,
    service,
    vaporizer,
)
from logbook.vocabulary import LONGEST_CASE_S

DAY_S = 86_400
FOREVER_S = 2**40
"""Later than every instant."""


@dataclass(frozen=True, slots=True)
class MachineView:
    """A machine as it stands at a moment; quantities None where never told."""

    machine: str
    serial: str | None
    location: str | None
    absorbent_g: Decimal | None
    scavenging: str | None
    flowmeter_max_ml_min: Decimal | None
    retired_s: int | None


_TOLD = tuple(name for name in MachineView.__slots__ if name != "retired_s")


@dataclass(frozen=True, slots=True)
class VaporizerView:
    """A vaporizer as it stands at a moment; ``machine`` is where it is fitted."""

    vaporizer: str
    agent: str
    serial: str | None
    capacity_ml: Decimal | None
    low_mark_ml: Decimal | None
    machine: str | None


def clinic_zone(connection: Connection) -> ZoneInfo:
    """The time zone that makes days of instants."""
    query = select(clinic.c.timezone).order_by(clinic.c.entry.desc()).limit(1)
    return ZoneInfo(connection.execute(query).scalar_one())


def machine_views(connection: Connection, at_s: int) -> dict[str, MachineView]:
    """Every machine by its tag, with the changes told up to ``at_s``.

    A machine counts from before the day on which it was entered, because a ledger often begins
    with work that was done earlier.
    """
    told: dict[str, dict[str, Any]] = {}
    query = select(machine).order_by(machine.c.event != "added", machine.c.at_s, machine.c.entry)
    for row in connection.execute(query).mappings():
        if row["event"] == "added":
            told[row["machine"]] = {name: row[name] for name in _TOLD} | {"retired_s": None}
        elif row["at_s"] <= at_s:
            view = told.get(row["machine"], {})
            view.update({name: row[name] for name in _TOLD if row[name] is not None})
            if row["event"] == "retired":
                view["retired_s"] = row["at_s"]
    return {tag: MachineView(**view) for tag, view in sorted(told.items())}


def vaporizer_views(
    connection: Connection, at_s: int, stays: "dict[str, list[Stay]] | None" = None
) -> dict[str, VaporizerView]:
    """Every vaporizer by its tag, and where it stands at ``at_s``."""
    where = positions(connection) if stays is None else stays
    rows = connection.execute(select(vaporizer).order_by(vaporizer.c.vaporizer))
    return {
        row.vaporizer: VaporizerView(
            row.vaporizer,
            row.agent,
            row.serial,
            row.capacity_ml,
            row.low_mark_ml,
            position(where.get(row.vaporizer, []), at_s),
        )
        for row in rows
    }


def newest(
    table: Table, units: Table, time: str = "at_s", **kinds: Sequence[ColumnElement[bool]]
) -> CompoundSelect[Any]:
    """For every unit, and for each kind of row that conditions tell, the newest row by a moment.

    Each row comes with its ``which``, the name of the kind. Takes the tags as ``units`` and the
    moment as ``at_s``. One seek in an index for each unit and kind, however many rows there are.
    """
    unit = tags(units)
    parts = []
    for which, conditions in kinds.items():
        seen = (
            select(table.c.entry)
            .where(
                table.c[units.name] == unit.c.tag,
                table.c[time] <= bindparam("at_s"),
                *conditions,
            )
            .order_by(table.c[time].desc(), table.c.entry.desc())
            .limit(1)
            .correlate(unit)
            .scalar_subquery()
        )
        row = table.alias()
        parts.append(select(literal(which).label("which"), row).join(unit, row.c.entry == seen))
    return union_all(*parts)


def tags(units: Table) -> Subquery:
    """The tags among ``units`` that the table of machines or of vaporizers holds."""
    tag = units.c[units.name]
    wanted = tag.in_(bindparam("units", expanding=True))
    return select(tag.label("tag")).where(wanted).distinct().subquery()


Stay = tuple[int, str | None]
"""From this second on, on this machine (or on none)."""


def positions(connection: Connection) -> dict[str, list[Stay]]:
    """Each vaporizer's stays in order of time.

    A fitting that was entered within a day of the vaporizer itself counts from the beginning,
    because it stood there before somebody entered it here; a spare that is fitted weeks later
    does not.
    """
    same = vaporizer.c.vaporizer == fitting.c.vaporizer
    query = select(fitting, vaporizer.c.at_s.label("added_s")).join(vaporizer, same)
    stays: dict[str, list[Stay]] = {}
    for row in connection.execute(query.order_by(fitting.c.at_s, fitting.c.entry)):
        known = stays.setdefault(row.vaporizer, [])
        stood_there = not known and row.at_s <= row.added_s + DAY_S
        known.append((0 if stood_there else row.at_s, row.machine))
    return stays


def position(stays: list[Stay], at_s: int) -> str | None:
    """The machine of the last stay that began by ``at_s``."""
    machines = [tag for from_s, tag in stays if from_s <= at_s]
    return machines[-1] if machines else None


OUTPUT_VERIFICATION = "output verification"
"""The service that shows a vaporizer's dose, and so the only one that can clear it."""


def evidence_s(unit: ColumnElement[Any], entry: ColumnElement[Any]) -> ColumnElement[Any]:
    """When the check or service of an entry passed on a unit; null where it did not.

    Of a vaporizer only a verification of its output counts: dusting it clears nothing.
    """
    checks = select(check.c.at_s).where(
        check.c.entry == entry, check.c.machine == unit, check.c.verdict == "passed"
    )
    no_vaporizer = unit.not_in(select(vaporizer.c.vaporizer))
    services = select(service.c.at_s).where(
        service.c.entry == entry,
        service.c.unit == unit,
        service.c.outcome == "passed",
        (service.c.item == OUTPUT_VERIFICATION) | no_vaporizer,
    )
    return func.coalesce(checks.scalar_subquery(), services.scalar_subquery())


def case_ended() -> ColumnElement[Any]:
    """When a case ended: its own end, else that of a ``case_end``, else null: still running."""
    live = select(func.max(case_end.c.ended_s)).where(case_end.c.case_entry == case.c.entry)
    return func.coalesce(case.c.ended_s, live.scalar_subquery())


def cases_between(tag: str, since_s: int, until_s: int) -> Select[Any]:
    """The cases of a machine that ran at any time from ``since_s`` to before ``until_s``."""
    ended = case_ended()
    return (
        select(case, ended.label("end_s"))
        .where(
            case.c.machine == tag,
            case.c.began_s > since_s - LONGEST_CASE_S,
            case.c.began_s < until_s,
            (ended > since_s) | ended.is_(None),
        )
        .order_by(case.c.began_s)
    )


def running_case(connection: Connection, tag: str, at_s: int = FOREVER_S) -> Row[Any] | None:
    """The case on a machine that was begun by ``at_s`` and not ended by then, if there is one."""
    return running_cases(connection, [tag], at_s).get(tag)


def running_cases(
    connection: Connection, machines: Sequence[str], at_s: int
) -> dict[str, Row[Any]]:
    """The case that runs on each machine at an instant; nothing where none runs."""
    rows = connection.execute(_running(), {"units": list(machines), "at_s": at_s})
    return {row.machine: row for row in rows}


@cache
def _running() -> Select[Any]:
    """Cases do not overlap, so only the newest of a machine can run; where an end was forgotten,
    also the last one that was begun live, or one that a correction touched."""
    unit = tags(machine)
    of_unit = select(case.c.entry).where(case.c.machine == unit.c.tag).correlate(unit).limit(1)
    begun = of_unit.where(case.c.began_s <= bindparam("at_s")).order_by(case.c.began_s.desc())
    live = of_unit.where(case.c.ended_s.is_(None)).order_by(case.c.entry.desc())
    ends = mention.c.entry == correction.c.corrects
    candidates = union(
        select(begun.scalar_subquery()).select_from(unit),
        select(live.scalar_subquery()).select_from(unit),
        select(correction.c.corrects),
        select(mention.c.refers).join_from(correction, mention, ends & mention.c.name.is_(None)),
    )
    ended = case_ended()
    return (
        select(case)
        .where(
            case.c.entry.in_(candidates),
            case.c.machine.in_(bindparam("units", expanding=True)),
            case.c.began_s <= bindparam("at_s"),
            or_(ended.is_(None), ended > bindparam("at_s")),
        )
        .order_by(case.c.began_s)
    )
