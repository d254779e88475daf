"""What a unit had run when it was serviced, and what a charge of absorbent had when it went out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from sqlalchemy import Connection, select

from logbook.answers.absorbent import counted_circuits
from logbook.answers.register import Register
from logbook.answers.spans import Ran, Span, on_machine, with_vaporizer
from logbook.ledger.store import Entry
from logbook.projections.tables import absorbent_change
from logbook.times import epoch_s, utc_from_epoch_s


@dataclass(frozen=True, slots=True)
class RunByThen:
    """Seconds of use: of a unit in all up to its service, or of the charge that a change took out,
    and the days for which that was in."""

    ran_s: int
    days: int | None = None


def run_by_then(
    connection: Connection, unit: str, entries: Sequence[Entry]
) -> dict[int, RunByThen]:
    """What had run by each service of a unit, and by each change of its absorbent that has a change
    before it, by the number of the entry."""
    register = Register(connection)
    at_s = {one.seq: epoch_s(one.happened_at) for one in entries}
    serviced = [one.seq for one in entries if one.kind in ("service", "output_verification")]
    changed = [one.seq for one in entries if one.kind == "absorbent_change"]
    before_s = _changed_before(connection, unit, {seq: at_s[seq] for seq in changed})
    spans = [span for seq in serviced for span in _in_all(register, unit, seq, at_s[seq])]
    spans += [on_machine(seq, unit, since_s, at_s[seq]) for seq, since_s in before_s.items()]
    ran = register.ran(spans) if spans else {}
    found = {seq: RunByThen(ran.get(seq, Ran()).ran_s) for seq in serviced}
    for seq, since_s in before_s.items():
        counted = counted_circuits(register.rules_at(at_s[seq]).for_machine(unit))
        days = (_day(register, at_s[seq]) - _day(register, since_s)).days
        found[seq] = RunByThen(ran.get(seq, Ran()).on(counted).ran_s, days)
    return found


def _in_all(register: Register, unit: str, seq: int, at_s: int) -> Iterator[Span]:
    view = register.vaporizers(at_s).get(unit)
    if view is None:
        yield on_machine(seq, unit, 0, at_s)
    else:
        yield from with_vaporizer(seq, view, register.stays.get(unit, []), 0, at_s)


def _changed_before(connection: Connection, unit: str, at_s: dict[int, int]) -> dict[int, int]:
    """When the charge came in that each change took out, where a change before it is recorded."""
    if not at_s:
        return {}
    change = absorbent_change.c
    query = select(change.entry, change.at_s).where(change.machine == unit)
    rows = connection.execute(query.order_by(change.at_s, change.entry)).all()
    return {one.entry: old.at_s for old, one in pairwise(rows) if one.entry in at_s}


def _day(register: Register, at_s: int) -> date:
    return utc_from_epoch_s(at_s).astimezone(register.clinic.zone).date()
