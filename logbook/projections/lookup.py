"""Small questions that both recording and answering ask of the projected tables."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import (
    ColumnElement,
    CompoundSelect,
    Connection,
    Row,
    RowMapping,
    Select,
    Subquery,
    Table,
    and_,
    bindparam,
    func,
    literal,
    or_,
    select,
    union,
    union_all,
)
from sqlalchemy.sql.util import ClauseAdapter

from logbook.arithmetic.air import ambient_kpa
from logbook.arithmetic.vaporizer import usual_design
from logbook.checklists.profile import Profile
from logbook.clock import zone_named
from logbook.country import usual_date_order
from logbook.ledger.schema import entry as written
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
from logbook.times import utc_from_epoch_s
from logbook.vocabulary import LONGEST_CASE_S, DateOrder, VaporizerDesign

DAY_S = 86_400
FOREVER_S = 2**40
"""Later than every instant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineView(Profile):
    """A machine as it stands at a moment."""

    machine: str
    retired_s: int | None = None


_TOLD = tuple(one.name for one in fields(MachineView) if one.name != "retired_s")


@dataclass(frozen=True, slots=True)
class VaporizerView:
    """A vaporizer as it stands at a moment; ``machine`` is where it is fitted, ``air_kpa`` the
    pressure of the clinic's air, None where nobody told it."""

    vaporizer: str
    agent: str
    serial: str | None
    capacity_ml: Decimal | None
    low_mark_ml: Decimal | None
    machine: str | None
    design: VaporizerDesign
    air_kpa: Decimal | None


@dataclass(frozen=True, slots=True)
class ClinicView:
    """The clinic as it was told last; ``since`` is the first day of this logbook, the day on which
    it was founded where no other was told."""

    name: str
    timezone: str
    listing_day: str
    country: str | None
    date_order: DateOrder | None
    altitude_m: Decimal | None
    ambient_kpa: Decimal | None
    since: date

    @property
    def air_kpa(self) -> Decimal | None:
        """The pressure of the air, by what was told of it; None where nobody told."""
        return ambient_kpa(self.ambient_kpa, self.altitude_m)

    @property
    def zone(self) -> ZoneInfo:
        """The time zone that makes days of instants."""
        return zone_named(self.timezone)


def clinic_view(connection: Connection) -> ClinicView:
    """The clinic as it stands, with the usual order of dates in its country."""
    founded_s = select(func.min(clinic.c.at_s)).scalar_subquery().label("founded_s")
    query = select(clinic, founded_s).order_by(clinic.c.entry.desc()).limit(1)
    row = connection.execute(query).one()
    founded = utc_from_epoch_s(row.founded_s).astimezone(zone_named(row.timezone)).date()
    told = {name: getattr(row, name) for name in ClinicView.__slots__}
    order = row.date_order or usual_date_order(row.country)
    return ClinicView(**told | {"date_order": order, "since": row.since or founded})


def clinic_zone(connection: Connection) -> ZoneInfo:
    """The time zone that makes days of instants."""
    query = select(clinic.c.timezone).order_by(clinic.c.entry.desc()).limit(1)
    return zone_named(connection.execute(query).scalar_one())


MachineRows = Mapping[str, Sequence[RowMapping]]
"""What was told of each machine, by its tag: first that it was added, then in order of time."""


def machine_rows(connection: Connection) -> MachineRows:
    """What was told of every machine that was added."""
    told: dict[str, list[RowMapping]] = {}
    query = select(machine).order_by(machine.c.event != "added", machine.c.at_s, machine.c.entry)
    for row in connection.execute(query).mappings():
        if row["event"] == "added":
            told[row["machine"]] = [row]
        elif row["machine"] in told:
            told[row["machine"]].append(row)
    return dict(sorted(told.items()))


def machine_view(rows: Sequence[RowMapping], at_s: int) -> MachineView:
    """A machine with the changes told up to ``at_s``.

    It counts from before the day on which it was entered, because a ledger often begins with work
    that was done earlier.
    """
    view: dict[str, Any] = {name: rows[0][name] for name in _TOLD} | {"retired_s": None}
    for row in rows[1:]:
        if row["at_s"] <= at_s:
            view.update({name: row[name] for name in _TOLD if row[name] is not None})
            if row["event"] == "retired":
                view["retired_s"] = row["at_s"]
    return MachineView(**view)


def machine_views(connection: Connection, at_s: int) -> dict[str, MachineView]:
    """Every machine by its tag, as it stands at ``at_s``."""
    return {tag: machine_view(rows, at_s) for tag, rows in machine_rows(connection).items()}


Stay = tuple[int, str | None]
"""From this second on, on this machine (or on none)."""


@dataclass(frozen=True, slots=True)
class VaporizerTold:
    """What was told of a vaporizer, beside what the clinic tells of its air; and its stays in order
    of time."""

    row: Row[Any]
    stays: list[Stay]


def vaporizers_told(connection: Connection) -> dict[str, VaporizerTold]:
    """Every vaporizer by its tag.

    A fitting that was entered within a day of the vaporizer itself counts from the beginning,
    because it stood there before somebody entered it here; a spare that is fitted weeks later
    does not.
    """
    last = select(func.max(clinic.c.entry)).scalar_subquery()
    fitted = (fitting.c.at_s.label("fitted_s"), fitting.c.machine.label("place"))
    known = vaporizer.join(clinic, clinic.c.entry == last)
    query = (
        select(vaporizer, clinic.c.ambient_kpa, clinic.c.altitude_m, *fitted)
        .select_from(known.outerjoin(fitting, fitting.c.vaporizer == vaporizer.c.vaporizer))
        .order_by(vaporizer.c.vaporizer, fitting.c.at_s, fitting.c.entry)
    )
    told: dict[str, VaporizerTold] = {}
    for row in connection.execute(query):
        stays = told.setdefault(row.vaporizer, VaporizerTold(row, [])).stays
        if row.fitted_s is not None:
            stood_there = not stays and row.fitted_s <= row.at_s + DAY_S
            stays.append((0 if stood_there else row.fitted_s, row.place))
    return told


def vaporizer_view(told: VaporizerTold, at_s: int) -> VaporizerView:
    """A vaporizer, and where it stands at ``at_s``."""
    row, place = told.row, position(told.stays, at_s)
    return VaporizerView(
        row.vaporizer,
        row.agent,
        row.serial,
        row.capacity_ml,
        row.low_mark_ml,
        place,
        row.design or usual_design(row.agent),
        ambient_kpa(row.ambient_kpa, row.altitude_m),
    )


def vaporizer_views(connection: Connection, at_s: int) -> dict[str, VaporizerView]:
    """Every vaporizer by its tag, and where it stands at ``at_s``."""
    told = vaporizers_told(connection)
    return {tag: vaporizer_view(one, at_s) for tag, one in told.items()}


def newest(
    table: Table, units: Table, time: str = "at_s", **kinds: Sequence[ColumnElement[bool]]
) -> CompoundSelect[Any]:
    """For every unit, and for each kind of row that conditions tell, the newest row by a moment.

    Each row comes with its ``which``, the name of the kind, and with when it was recorded. Takes
    the tags as ``units`` and the moment as ``at_s``. One seek in an index for each unit and kind,
    however many rows there are.
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
        told = select(literal(which).label("which"), row, written.c.recorded_at).select_from(row)
        by_number = written.c.seq == row.c.entry
        # An entry can have several rows, such as a check that reads two cylinders.
        same = [ClauseAdapter(row).traverse(one) for one in conditions]
        parts.append(told.join(unit, and_(row.c.entry == seen, *same)).join(written, by_number))
    return union_all(*parts)


def tags(units: Table) -> Subquery:
    """The tags among ``units`` that the table of machines or of vaporizers holds."""
    tag = units.c[units.name]
    wanted = tag.in_(bindparam("units", expanding=True))
    return select(tag.label("tag")).where(wanted).distinct().subquery()


def positions(connection: Connection) -> dict[str, list[Stay]]:
    """Each vaporizer's stays in order of time."""
    return {tag: one.stays for tag, one in vaporizers_told(connection).items()}


def position(stays: list[Stay], at_s: int) -> str | None:
    """The machine of the last stay that began by ``at_s``."""
    machines = [tag for from_s, tag in stays if from_s <= at_s]
    return machines[-1] if machines else None


OUTPUT_VERIFICATION = "output verification"
"""The service that shows a vaporizer's dose, and so the only one that can clear it."""
EXPECTED = {"machine": "service", "vaporizer": OUTPUT_VERIFICATION}
"""What every unit needs even where nobody planned it (ANZCA PS31 2014; UC Davis policy)."""


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
