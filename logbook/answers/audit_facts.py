"""What an audit looks at: each fact read with one statement, however long the span is."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from itertools import groupby
from operator import attrgetter
from sys import intern
from typing import Any

from sqlalchemy import Result, Row, select

from logbook.answers import audit_statements as statements
from logbook.answers.absorbent import counted_circuits
from logbook.answers.audit_ran import RanCase, RanInAll, during
from logbook.answers.facts import Change, Done, OpenFault, Plan
from logbook.answers.gauges import Opened, moved
from logbook.answers.last_checks import DAILY_LIST
from logbook.answers.moment import Moment
from logbook.answers.picked import Key
from logbook.answers.recorded import LATE, Recorded, recorded
from logbook.answers.register import Register
from logbook.answers.rules import Values
from logbook.answers.spans import Ran, on_machine
from logbook.projections.lookup import (
    OUTPUT_VERIFICATION,
    MachineView,
    Stay,
    VaporizerView,
    position,
)
from logbook.projections.tables import correction
from logbook.times import epoch_s, utc_from_epoch_s, utc_parse
from logbook.value import Value
from logbook.vocabulary import LONGEST_CASE_S


@dataclass(frozen=True, slots=True)
class Walked:
    """A check of the span; ``hasty`` is an item of it whose hold is too short to be true."""

    entry: int
    machine: str
    checklist: str
    begun_s: int
    at_s: int
    verdict: str
    leak_passed: bool
    hasty: str | None
    by: str
    recorded_s: int


class OutOfService(Value):
    """What kept a unit from use, and when that ended; None where it has not."""

    fault: OpenFault
    from_s: int
    ended_s: int | None

    def holds(self, at_s: int) -> bool:
        """Whether it stood against the unit at an instant."""
        return self.from_s <= at_s and (self.ended_s is None or self.ended_s > at_s)


@dataclass(frozen=True, slots=True)
class Written:
    """An entry of the span as it was written: what it names, and how it was recorded."""

    entry: int
    kind: str
    names: tuple[str, ...]
    ends_case: int | None
    at_s: int
    recorded_s: int
    by: str
    how: Recorded


@dataclass(frozen=True)
class AuditFacts:
    """Everything about some machines from one instant to before another."""

    register: Register
    moment: Moment
    from_s: int
    to_s: int
    machines: Mapping[str, MachineView]
    vaporizers: Mapping[str, VaporizerView]

    @property
    def stays(self) -> Mapping[str, list[Stay]]:
        """Where each vaporizer stood."""
        return self.register.stays

    def _rows(self, query: Any, units: Mapping[str, Any], **more: Any) -> Sequence[Row[Any]]:
        return self._read(query, units, **more).all()

    def _read(self, query: Any, units: Mapping[str, Any], **more: Any) -> Result[Any]:
        told = {"units": list(units), "from_s": self.from_s, "to_s": self.to_s} | more
        return self.register.connection.execute(query, told)

    @property
    def _units(self) -> dict[str, Any]:
        return {**self.machines, **self.vaporizers}

    def place_of(self, unit: str, at_s: int) -> str | None:
        """The machine that a unit is, or on which it stood."""
        return unit if unit in self.machines else position(self.stays.get(unit, []), at_s)

    def about(self, one: "Written") -> tuple[str | None, str | None]:
        """The machine and the unit that an entry is about; the end of a case names its case."""
        if one.ends_case is not None:
            begun = self._case_machines.get(one.ends_case)
            return begun, begun
        places = [(self.place_of(name, one.at_s), name) for name in one.names]
        on_machine = (place for place in places if place[0] is not None)
        return next(on_machine, places[0] if places else (None, None))

    @cached_property
    def _case_machines(self) -> dict[int, str]:
        """The machine of each case that ended in the span."""
        rows = self._rows(statements.case_machines(), {})
        return {row.entry: row.machine for row in rows}

    def values(self, machine: str, at_s: int) -> Values:
        """The limits in force on a machine at an instant."""
        return self.register.rules_at(at_s).for_machine(machine)

    @cached_property
    def begun(self) -> list["RanCase"]:
        """The cases that began in the span."""
        return [one for one in self.cases if one.began_s >= self.from_s]

    def cases_of(self, machine: str) -> list["RanCase"]:
        """The cases that ran on a machine in the span."""
        return self._cases_by_machine.get(machine, [])

    @cached_property
    def _cases_by_machine(self) -> dict[str, list["RanCase"]]:
        found: dict[str, list[RanCase]] = defaultdict(list)
        for one in self.cases:
            found[one.machine].append(one)
        return found

    def cases_during(self, machine: str, from_s: int, to_s: int) -> Sequence[RanCase]:
        """Those of them that may have run at some second from one instant to before another."""
        return during(self.cases_of(machine), from_s, to_s)

    def ran_with(self, tag: str, from_s: int, to_s: int) -> int:
        """Seconds for which a vaporizer ran in a part of the span."""
        ran = self._with_vaporizer.get(tag)
        return ran.seconds(from_s, to_s) if ran else 0

    @cached_property
    def _with_vaporizer(self) -> dict[str, RanInAll]:
        found: dict[str, list[RanCase]] = defaultdict(list)
        for one in self.cases:
            for tag in one.vaporizers:
                found[tag].append(one)
        return {tag: RanInAll.of(cases) for tag, cases in found.items()}

    def daily(self, machine: str, day: date) -> list["Walked"]:
        """The daily checks of a machine on a day, in order of time."""
        return self._daily.get((machine, day), [])

    @cached_property
    def _daily(self) -> dict[tuple[str, date], list["Walked"]]:
        found: dict[tuple[str, date], list[Walked]] = defaultdict(list)
        for checks in self.checks.values():
            for one in checks:
                if one.checklist == DAILY_LIST:
                    found[one.machine, self.moment.day_of(one.at_s)].append(one)
        return found

    def leak_tested_before(self, machine: str, at_s: int) -> int:
        """When the last leak test of a machine passed before an instant; 0 for never."""
        passed = self._leaks_passed_s[machine]
        return passed[max(bisect_right(passed, at_s) - 1, 0)]

    @cached_property
    def _leaks_passed_s(self) -> dict[str, list[int]]:
        """When the leak tests of each machine passed, the last before the span first; 0 for none
        before."""
        return {
            tag: [
                self._leak_tested_s.get(tag, 0),
                *(one.at_s for one in self.checks.get(tag, []) if one.leak_passed),
            ]
            for tag in self.machines
        }

    def opened(self, machine: str, from_s: int, to_s: int) -> Opened | None:
        """The first time at which a machine was opened after an instant and up to another."""
        opened = self._opened[machine]
        after = bisect_right(opened, from_s, key=attrgetter("at_s"))
        return opened[after] if after < len(opened) and opened[after].at_s <= to_s else None

    @cached_property
    def _opened(self) -> dict[str, list[Opened]]:
        """Each time at which each machine was opened, oldest first."""
        found: dict[str, list[Opened]] = {}
        for machine in self.machines:
            changes = [Opened(one.at_s, one.entry) for one, _ in self.changes.get(machine, [])]
            opened = [*changes, *moved(self.stays, machine)]
            found[machine] = sorted(opened, key=attrgetter("at_s"))
        return found

    def verification_plan(self, tag: str, at_s: int) -> Plan | None:
        """The newest plan of a vaporizer's verification; one counts from before the day on which
        it was entered."""
        every = self.register.plans.get(tag, ())
        plans = [(told_s, plan) for told_s, plan in every if plan.item == OUTPUT_VERIFICATION]
        newest = [plan for told_s, plan in plans if told_s <= at_s] or [one for _, one in plans[:1]]
        return newest[-1] if newest else None

    def verified(self, tag: str, at_s: int) -> Done | None:
        """The last verification of a vaporizer before an instant that was one."""
        done = [one for one in self._verified.get(tag, []) if one.at_s <= at_s]
        return done[-1] if done else None

    @cached_property
    def _verified(self) -> dict[str, list[Done]]:
        found: dict[str, list[Done]] = defaultdict(list)
        for row in self._rows(statements.verifications(), self.vaporizers):
            found[row.unit].append(Done(row.entry, row.at_s, row.outcome))
        return found

    def loaded_before_s(self, machine: str) -> int:
        """Seconds for which the charge that the span begins with had been in use before it."""
        values = self.values(machine, self.from_s)
        return self._ran_before.get(machine, Ran()).on(counted_circuits(values)).ran_s

    @cached_property
    def _ran_before(self) -> dict[Key, Ran]:
        spans = (
            on_machine(tag, tag, changes[0][0].at_s, self.from_s)
            for tag, changes in self.changes.items()
            if changes[0][0].at_s < self.from_s
        )
        return self.register.ran(spans)

    @cached_property
    def cases(self) -> list[RanCase]:
        """The cases that ran in the span, in order of their begin."""
        ran = (self._case(row) for row in self._read(statements.cases(), self.machines))
        return [one for one in ran if one.ended_s > self.from_s or one.began_s >= self.from_s]

    def _case(self, row: Row[Any]) -> RanCase:
        stood = (
            tag
            for tag in self._ever_on[row.machine]
            if position(self.stays[tag], row.began_s) == row.machine
        )
        named = (row.vaporizer,) if row.vaporizer else tuple(stood)
        ended_s = row.end_s or min(self.moment.at_s, row.began_s + LONGEST_CASE_S)
        return RanCase(
            row.entry, intern(row.machine), row.began_s, ended_s, intern(row.circuit), named,
            intern(row.by), epoch_s(utc_parse(row.recorded_at)),
        )  # fmt: skip

    @cached_property
    def _ever_on(self) -> dict[str, list[str]]:
        """The vaporizers that stood on each machine at any time."""
        found: dict[str, list[str]] = defaultdict(list)
        for tag, stays in self.stays.items():
            for place in {place for _, place in stays if place and tag in self.vaporizers}:
                found[place].append(tag)
        return found

    @cached_property
    def checks(self) -> dict[str, list[Walked]]:
        """The checks of each machine, in order of time."""
        walked = [
            Walked(
                row.entry, intern(row.machine), intern(row.checklist), row.begun_s or row.at_s,
                row.at_s, intern(row.verdict), bool(row.leak_passed), row.hasty, intern(row.by),
                epoch_s(utc_parse(row.recorded_at)),
            )
            for row in self._read(statements.checks(), self.machines)
        ]  # fmt: skip
        return {tag: list(rows) for tag, rows in groupby(walked, attrgetter("machine"))}

    @cached_property
    def _leak_tested_s(self) -> dict[str, int]:
        """When the last leak test before the span passed on each machine."""
        rows = self._rows(statements.leak_tested(), self.machines, at_s=self.from_s - 1)
        return {row.machine: row.at_s for row in rows}

    @cached_property
    def changes(self) -> dict[str, list[tuple[Change, str]]]:
        """The absorbent changes of each machine with who signed them, the last before the span
        first."""
        rows = self._rows(statements.changes(), self.machines, at_s=self.from_s - 1)
        return {
            tag: [(Change(row.entry, row.at_s, row.mass_g), row.by) for row in group]
            for tag, group in groupby(rows, attrgetter("machine"))
        }

    @cached_property
    def out_of_service(self) -> dict[str, list[OutOfService]]:
        """What kept each unit from use at any time of the span, oldest first."""
        found: dict[str, list[OutOfService]] = defaultdict(list)
        for row in self._rows(statements.stopping_faults(), self._units):
            at = utc_from_epoch_s(row.at_s)
            one = OpenFault(row.entry, row.unit, row.what, row.detail, at)
            found[row.unit].append(OutOfService(one, row.at_s, row.ended_s))
        return found

    @cached_property
    def returns(self) -> Sequence[Row[Any]]:
        """The returns to service, with who signed them."""
        return self._rows(statements.returns(), self._units)

    @cached_property
    def written(self) -> dict[int, Written]:
        """Every entry that happened in the span, and names one of the units or none, by number."""
        # A year of a large clinic has a hundred thousand: its rows are not held beside them.
        rows = self._read(statements.written(), self._units)
        late_h = self.register.rules_at(self.to_s).clinic[LATE]
        return {
            seq: _written(list(group), late_h) for seq, group in groupby(rows, attrgetter("seq"))
        }

    @cached_property
    def corrections(self) -> list[Row[Any]]:
        """The last correction of each entry that was written in the span, with its own signer."""
        rows = self.register.connection.execute(select(correction).order_by(correction.c.entry))
        last = {row.corrects: row for row in rows if row.corrects in self.written}
        return list(last.values())

    @cached_property
    def restores(self) -> Sequence[Row[Any]]:
        """The times at which the ledger was brought back from a copy."""
        return self._rows(statements.restores(), {})


def facts_between(
    register: Register, moment: Moment, from_s: int, to_s: int, machine: str | None = None
) -> AuditFacts:
    """What there is to look at from one instant to before another, on one machine or on all."""
    views = register.machines(to_s)
    machines = {tag: view for tag, view in views.items() if machine in (None, tag)}
    return AuditFacts(register, moment, from_s, to_s, machines, register.vaporizers(to_s))


def _written(rows: list[Row[Any]], late_h: Decimal) -> Written:
    first = rows[0]
    return Written(
        first.seq,
        intern(first.kind),
        tuple(intern(row.name) for row in rows if row.name),
        first.refers if first.kind == "case_end" else None,
        epoch_s(utc_parse(first.happened_at)),
        epoch_s(utc_parse(first.recorded_at)),
        intern(first.by),
        recorded(
            first.happened_at, first.recorded_at, first.recorded_before, late_h, first.ended_s
        ),
    )
