"""What is refused because it cannot have happened; everything else is recorded and flagged."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, func, literal, select

from logbook.errors import InputError
from logbook.ledger.store import Draft, Entry
from logbook.limits import LIMITS
from logbook.projections import tables
from logbook.projections.lookup import (
    FOREVER_S,
    OUTPUT_VERIFICATION,
    cases_between,
    clinic_zone,
    evidence_s,
    machine_views,
    position,
    positions,
    running_case,
    vaporizer_views,
)
from logbook.projections.project import NEVER_CORRECTED, counting
from logbook.times import utc_text
from logbook.units import shown
from logbook.vocabulary import LONGEST_CASE_S

if TYPE_CHECKING:
    from logbook.entries.book import Correction, RuleChange
    from logbook.entries.case import Case, CaseBegin, CaseEnd, Segment
    from logbook.entries.check import ChecklistLoad
    from logbook.entries.clinic import Staff
    from logbook.entries.fault import ReturnToService
    from logbook.entries.machine import Machine, MachineRetirement
    from logbook.entries.service import ServicePlan
    from logbook.entries.vaporizer import Vaporizer, VaporizerRemoval

EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
"""A date before this is a slip of the pen; our own choice."""
CLOCK_SLACK = timedelta(minutes=2)
"""How far two computers' clocks may differ; our own choice."""


def refuse_nonsense(connection: Connection, draft: Draft, now: datetime) -> None:
    """Every refusal that fits the draft.

    Raises:
        InputError: one sentence that names the field, the value and what would do.
    """
    _when(connection, draft.happened_at, now)
    _who(connection, draft)
    _content(connection, draft.body, draft.happened_at, now, own=None)


def _content(
    connection: Connection, body: Any, at: datetime, now: datetime, own: int | None
) -> None:
    """Refuse what makes no sense of a body; ``own`` is the entry that a correction replaces."""
    at_s = int(at.timestamp())
    if body.kind not in _BRINGS_ITS_UNIT:
        _units(connection, body, at_s)
    if body.kind in ("case", "case_begin", "case_end"):
        _segments(body.segments)
    if body.kind == "correction":
        _correction(connection, body, now)
    elif body.kind in _REFUSALS:
        _REFUSALS[body.kind](connection, body, at_s, own)
    if body.kind == "case":
        _when(connection, body.ended_at, now, "end")


def _when(connection: Connection, at: datetime, now: datetime, what: str = "time") -> None:
    if at > now + CLOCK_SLACK:
        raise InputError(
            f"the {what} {_local(connection, at)} lies in the future; give a time up to now"
        )
    if at < EARLIEST:
        raise InputError(f"the {what} {utc_text(at)} lies before the year 2000; check the date")


def _local(connection: Connection, at: datetime | int) -> str:
    moment = datetime.fromtimestamp(at, UTC) if isinstance(at, int) else at
    return moment.astimezone(clinic_zone(connection)).strftime("%Y-%m-%d %H:%M")


def _who(connection: Connection, draft: Draft) -> None:
    if not draft.by:
        return
    known = connection.execute(select(tables.staff.c.initials)).scalars().all()
    brings_itself = getattr(draft.body, "initials", None) == draft.by
    if draft.by not in known and not brings_itself:
        raise InputError(
            f"nobody here signs as {shown(draft.by)}; known are {_list(known)}; "
            f"add a person with: logbook staff add {draft.by} NAME"
            if draft.by.isascii()
            else f"nobody here signs as {shown(draft.by)}; known are {_list(known)}"
        )


def _list(names: Any) -> str:
    return ", ".join(sorted(names)) or "none yet"


_BRINGS_ITS_UNIT = {"machine", "vaporizer"}


def _units(connection: Connection, body: Any, at_s: int) -> None:
    """The machine, vaporizer or unit that the body names exists, and was not retired before."""
    machines = machine_views(connection, FOREVER_S)
    wanted = getattr(body, "vaporizer", None) or getattr(body, "unit", None)
    vaporizers = vaporizer_views(connection, FOREVER_S) if wanted else {}
    named = {
        "machine": (getattr(body, "machine", None), list(machines)),
        "vaporizer": (getattr(body, "vaporizer", None), list(vaporizers)),
        "unit": (getattr(body, "unit", None), [*machines, *vaporizers]),
    }
    for field, (tag, known) in named.items():
        if tag is not None and tag not in known:
            raise InputError(f"there is no {field} {shown(tag)}; known are {_list(known)}")
        retired_s = machines[tag].retired_s if tag in machines else None
        if retired_s is not None and at_s >= retired_s and body.kind != "machine_retirement":
            raise InputError(
                f"machine {tag} was retired on {_local(connection, retired_s)}; "
                "give an earlier time or another machine"
            )


def _new_tag(connection: Connection, tag: str, own: int | None) -> None:
    for table, column in ((tables.machine, "machine"), (tables.vaporizer, "vaporizer")):
        query = select(table.c.entry).where(table.c[column] == tag)
        entry = connection.execute(query.order_by(table.c.entry)).scalar()
        if entry is not None and entry != own:
            raise InputError(f"the tag {tag} is taken by entry {entry}; choose another tag")


def _machine(connection: Connection, body: "Machine", _at_s: int, own: int | None) -> None:
    _new_tag(connection, body.machine, own)


def _vaporizer(connection: Connection, body: "Vaporizer", _at_s: int, own: int | None) -> None:
    _new_tag(connection, body.vaporizer, own)


def _retirement(
    connection: Connection, body: "MachineRetirement", at_s: int, own: int | None
) -> None:
    told = select(tables.machine.c.entry).where(
        tables.machine.c.machine == body.machine,
        tables.machine.c.event == "retired",
        tables.machine.c.entry != own,
    )
    again = connection.execute(told).scalar()
    if again is not None:
        raise InputError(f"{body.machine} is retired by entry {again}; correct that entry instead")
    running = running_case(connection, body.machine)
    if running:
        raise InputError(f"case {running.entry} still runs on {body.machine}; end it first")
    clash = connection.execute(cases_between(body.machine, at_s, FOREVER_S)).first()
    if clash is not None:
        raise InputError(f"case {clash.entry} ran on {body.machine} after that; give a later time")


def _staff(connection: Connection, body: "Staff", _at_s: int, own: int | None) -> None:
    query = select(tables.staff.c.entry).where(tables.staff.c.initials == body.initials)
    known = connection.execute(query).scalar()
    if known is not None and known != own:
        raise InputError(f"the initials {body.initials} are taken; choose others, such as a digit")


def _removal(connection: Connection, body: "VaporizerRemoval", at_s: int, _own: int | None) -> None:
    stays = positions(connection).get(body.vaporizer, [])
    if position(stays, at_s) is None:
        raise InputError(f"{body.vaporizer} stood on no machine at that time; check the time")


def _case(connection: Connection, body: "Case", at_s: int, own: int | None) -> None:
    end_s = int(body.ended_at.timestamp())
    _span(connection, at_s, end_s)
    _no_overlap(connection, body.machine, at_s, end_s, own)
    _fits_in(body.segments, end_s - at_s)


def _case_begin(connection: Connection, body: "CaseBegin", at_s: int, own: int | None) -> None:
    end_s = None if own is None else _live_end(connection, own)
    if end_s is None:
        running = running_case(connection, body.machine)
        if running and running.entry != own:
            raise InputError(
                f"case {running.entry} still runs on {body.machine} since "
                f"{_local(connection, running.began_s)}; end it first with: "
                f"logbook case end {body.machine}"
            )
        end_s = at_s + 1  # Where it ends is not known yet; its end is held against later cases.
    _span(connection, at_s, end_s)
    _no_overlap(connection, body.machine, at_s, end_s, own)


def _live_end(connection: Connection, case_entry: int, but: int | None = None) -> int | None:
    """When a case that was begun live ended, by another entry than ``but``."""
    end = tables.case_end
    query = select(func.max(end.c.ended_s)).where(
        end.c.case_entry == case_entry, end.c.entry != but
    )
    return connection.execute(query).scalar()


def _case_end(connection: Connection, body: "CaseEnd", at_s: int, own: int | None) -> None:
    query = select(tables.case).where(tables.case.c.entry == body.case_entry)
    begun = connection.execute(query).first()
    if begun is None:
        raise InputError(f"entry {body.case_entry} began no case; see: logbook case list")
    if begun.ended_s is not None or _live_end(connection, begun.entry, but=own) is not None:
        raise InputError(f"case {begun.entry} has ended already; correct it instead")
    _span(connection, begun.began_s, at_s)
    _no_overlap(connection, begun.machine, begun.began_s, at_s, begun.entry)
    _fits_in(body.segments, at_s - begun.began_s)


def _span(connection: Connection, began_s: int, ended_s: int) -> None:
    if ended_s <= began_s:
        raise InputError(
            f"the end {_local(connection, ended_s)} is not after the begin "
            f"{_local(connection, began_s)}; give a later end"
        )
    if ended_s - began_s > LONGEST_CASE_S:
        raise InputError(
            f"the case would last {(ended_s - began_s) / 3600:.1f} h, from "
            f"{_local(connection, began_s)} to {_local(connection, ended_s)}; "
            "give at most 24 h, or split it"
        )


def _no_overlap(
    connection: Connection, machine: str, began_s: int, ended_s: int, own: int | None
) -> None:
    for other in connection.execute(cases_between(machine, began_s, ended_s)):
        if other.entry != own:
            end = _local(connection, other.end_s) if other.end_s else "still running"
            raise InputError(
                f"case {other.entry} ran on {machine} then, from "
                f"{_local(connection, other.began_s)} to {end}; give other times or correct it"
            )


def _segments(segments: "tuple[Segment, ...]") -> None:
    if any(part.duration_s is None for part in segments[:-1]):
        raise InputError("only the last segment may lack a duration; give the others theirs")


def _fits_in(segments: "tuple[Segment, ...]", ran_s: int) -> None:
    told_s = sum(part.duration_s or 0 for part in segments)
    if told_s > ran_s:
        raise InputError(
            f"the segments last {told_s / 60:.0f} min, longer than the case of {ran_s / 60:.0f} "
            "min; shorten them"
        )


def _plan(connection: Connection, body: "ServicePlan", at_s: int, _own: int | None) -> None:
    from logbook.arithmetic.calendar import next_due

    if body.every is not None:
        # Working a date out finds what reading alone cannot: a rule that never comes round.
        next_due(body.every, body.last or datetime.fromtimestamp(at_s, UTC).date())
    today = datetime.fromtimestamp(at_s, clinic_zone(connection)).date()
    if body.last is not None and body.last > today:
        raise InputError(f"the last service on {body.last} lies in the future; give a past day")


def _return(connection: Connection, body: "ReturnToService", at_s: int, _own: int | None) -> None:
    """Only a passed check or service on the same unit, after the last fault, is evidence."""
    seen_s = connection.execute(
        select(evidence_s(literal(body.unit), literal(body.evidence_entry)))
    ).scalar()
    if seen_s is None:
        raise InputError(
            f"entry {body.evidence_entry} is no passed check or service that clears {body.unit} "
            f"(of a vaporizer: {OUTPUT_VERIFICATION}); record one, then name its number"
        )
    fault = tables.fault
    stopping = select(fault).where(
        fault.c.unit == body.unit, fault.c.stops == 1, fault.c.at_s <= at_s
    )
    newest_first = stopping.order_by(fault.c.at_s.desc(), fault.c.entry.desc())
    last = connection.execute(newest_first.limit(1)).first()
    if last and not (last.at_s, last.entry) < (seen_s, body.evidence_entry) <= (at_s, FOREVER_S):
        raise InputError(
            f"entry {body.evidence_entry} is not between the fault of "
            f"{_local(connection, last.at_s)} (entry {last.entry}) and the return; "
            "name a check or service done after the fault"
        )


def _rule(_connection: Connection, body: "RuleChange", _at_s: int, _own: int | None) -> None:
    if body.limit not in LIMITS:
        raise InputError(f"there is no limit {shown(body.limit)}; known are {_list(LIMITS)}")
    if body.value == 0 and not LIMITS[body.limit].can_be_off:
        raise InputError(f"the limit {body.limit} has the value 0; give a value above 0")


def _checklist(connection: Connection, body: "ChecklistLoad", _at_s: int, own: int | None) -> None:
    from logbook.checklists import builtin, builtin_names, parse

    told = parse(body.text)
    if (told.name, told.version) != (body.checklist, body.version):
        raise InputError(
            f"the text is that of the list {told.name}, version {told.version}, not of "
            f"{body.checklist}, version {body.version}; give the name and version of the text"
        )
    known = tables.checklist
    query = select(known.c.entry).where(
        known.c.checklist == body.checklist,
        known.c.version >= body.version,
        known.c.entry != own,
    )
    clash = connection.execute(query).scalar()
    name, version = body.checklist, body.version
    newest_builtin = builtin(name).version if name in builtin_names() else 0
    if clash is not None or version <= newest_builtin:
        raise InputError(
            f"version {version} of the list {name} is not newer than the one known; "
            "a version is never changed, so give a higher one"
        )


def _correction(connection: Connection, body: "Correction", now: datetime) -> None:
    from pydantic import ValidationError

    from logbook.entries import model
    from logbook.entries.base import explain
    from logbook.ledger.store import read_entry

    target = read_entry(connection, body.corrects)
    if target is None:
        raise InputError(f"there is no entry {body.corrects}; see: logbook history MACHINE")
    if target.kind in NEVER_CORRECTED:
        raise InputError(
            f"entry {target.seq} is a {target.kind} entry, which is not corrected; "
            "correct the entry it is about, or record a new one"
        )
    if target.kind in _BRINGS_ITS_UNIT:
        _still_named(connection, target, body)
    if body.body is None or body.happened_at is None:
        return
    try:
        content = model(target.kind).model_validate(body.body)
    except ValidationError as error:
        raise explain(error) from None
    _when(connection, body.happened_at, now)
    _content(connection, content, body.happened_at, now, own=target.seq)


def _still_named(connection: Connection, target: Entry, body: "Correction") -> None:
    """A machine or vaporizer that other entries name can neither go nor get another tag."""
    now = counting(connection, target.seq)
    tag = getattr(now.body, target.kind) if now else None
    if tag is None or (body.body or {}).get(target.kind) == tag:
        return
    for table in tables.projected.sorted_tables:
        for column in table.columns:
            if column.name in ("machine", "vaporizer", "unit"):
                query = select(table.c.entry).where(column == tag, table.c.entry != target.seq)
                entry = connection.execute(query.limit(1)).scalar()
                if entry is not None:
                    raise InputError(f"entry {entry} names {tag}; withdraw or correct it first")


_REFUSALS: dict[str, Callable[[Connection, Any, int, int | None], None]] = {
    "machine": _machine,
    "machine_retirement": _retirement,
    "vaporizer": _vaporizer,
    "staff": _staff,
    "vaporizer_removal": _removal,
    "case": _case,
    "case_begin": _case_begin,
    "case_end": _case_end,
    "service_plan": _plan,
    "return_to_service": _return,
    "rule_change": _rule,
    "checklist": _checklist,
}
