"""What the ledger knows for a question: each fact read once, for all units, when first needed.

The rules of the other files ask these values alone, so that each of them can be tried without a
ledger. The number of statements does not grow with machines, readings or years.
"""

from collections.abc import Mapping
from datetime import date
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Row, select

from logbook.answers import statements
from logbook.answers.facts import (
    Canister,
    Change,
    CheckDone,
    Cylinder,
    Done,
    Exhausted,
    Gauge,
    Level,
    OpenFault,
    Plan,
    PopOff,
    Running,
)
from logbook.answers.moment import Moment
from logbook.answers.spans import (
    Key,
    Ran,
    Span,
    Use,
    on_machine,
    ran,
    through_machine,
    used,
    with_vaporizer,
)
from logbook.answers.statements import LAST_COMPARED
from logbook.answers.unfinished import Unfinished, unfinished_checks
from logbook.checklists import Checklist, builtin, builtin_names, parse
from logbook.ledger.schema import entry
from logbook.projections.lookup import MachineView, Stay, VaporizerView, newest, running_cases
from logbook.projections.tables import case, check, machine, service_plan
from logbook.times import utc_from_epoch_s

if TYPE_CHECKING:
    from collections.abc import Iterator

DAILY_LIST = "daily"
DAILY = "P1D"


class Known:
    """Everything about some machines and vaporizers up to a moment."""

    def __init__(
        self, connection: Connection, moment: Moment, machines: Mapping[str, MachineView],
        vaporizers: Mapping[str, VaporizerView], stays: Mapping[str, list[Stay]],
    ) -> None:  # fmt: skip
        self._connection, self._moment = connection, moment
        self._machines, self._vaporizers, self._stays = machines, vaporizers, stays
        self._units = {**machines, **vaporizers}

    def _rows(self, query: Any, units: Mapping[str, Any]) -> "Iterator[Row[Any]]":
        told = {"units": list(units), "at_s": self._moment.at_s}
        return iter(self._connection.execute(query, told))

    @cached_property
    def absorbent(self) -> dict[str, Change]:
        """The last absorbent change of each machine."""
        return {
            row.machine: Change(row.entry, row.at_s, row.mass_g)
            for row in self._rows(statements.absorbent_changes(), self._machines)
        }

    @cached_property
    def exhausted(self) -> dict[str, Exhausted]:
        """The first check since the last change that saw exhausted absorbent."""
        seen: dict[str, Exhausted] = {}
        for row in self._rows(statements.exhausted_seen(), self._machines):
            change = self.absorbent.get(row.machine)
            if change and (row.at_s, row.entry) > (change.at_s, change.entry):
                seen.setdefault(row.machine, Exhausted(row.entry, row.at_s, row.exhausted))
        return seen

    @cached_property
    def charcoal(self) -> dict[str, Canister]:
        """The canister in use on each machine on which one was recorded."""
        since: dict[str, list[Row[Any]]] = {}
        for row in self._rows(statements.canisters(), self._machines):
            if row.event == "change":
                since[row.machine] = []
            if row.machine in since:
                since[row.machine].append(row)
        return {
            tag: Canister(rows[0].at_s, tuple(row.weight_g for row in rows))
            for tag, rows in since.items()
        }

    @cached_property
    def plans(self) -> list[Plan]:
        """The newest plan of each item on each unit; a plan counts from before the day on which it
        was entered, like the units themselves."""
        query = select(service_plan).order_by(service_plan.c.at_s, service_plan.c.entry)
        plans: dict[tuple[str, str], Plan] = {}
        for row in self._connection.execute(query):
            if row.at_s <= self._moment.at_s or (row.unit, row.item) not in plans:
                plan = Plan(row.unit, row.item, row.every, row.run_hours, row.last)
                plans[row.unit, row.item] = plan
        return [plan for plan in plans.values() if plan.unit in self._units]

    @cached_property
    def services(self) -> dict[tuple[str, str], Done]:
        """The newest service of each item that is planned."""
        return {
            (row.unit, row.item): Done(row.entry, row.at_s, row.outcome)
            for row in self._rows(
                statements.last_services(), {**self._machines, **self._vaporizers}
            )
        }

    def clock_of(self, plan: Plan) -> tuple[date | None, int]:
        """The day and the second from which the clocks of a plan run."""
        done, moment = self.services.get((plan.unit, plan.item)), self._moment
        if done is not None:
            day = moment.day_of(done.at_s)
            if plan.last is None or day >= plan.last:
                return day, done.at_s
        return plan.last, moment.day_began_s(plan.last) if plan.last else 0

    @cached_property
    def ran(self) -> dict[Key, Ran]:
        """What ran since the last change of absorbent and charcoal, and since each service that is
        planned by run hours."""
        return ran(self._connection, self._run_spans())

    def _run_spans(self) -> "Iterator[Span]":
        until_s = self._moment.at_s
        for tag, change in self.absorbent.items():
            yield on_machine(("absorbent", tag), tag, change.at_s, until_s)
        for tag, canister in self.charcoal.items():
            yield on_machine(("charcoal", tag), tag, canister.at_s, until_s)
        for plan in self.plans:
            if plan.run_hours:
                yield from self._of_unit(plan.key, plan.unit, self.clock_of(plan)[1])

    def _of_unit(self, key: Key, unit: str, since_s: int) -> "Iterator[Span]":
        until_s = self._moment.at_s
        if unit in self._machines:
            yield on_machine(key, unit, since_s, until_s)
        else:
            view, stays = self._vaporizers[unit], self._stays.get(unit, [])
            yield from with_vaporizer(key, view, stays, since_s, until_s)

    @cached_property
    def in_all(self) -> dict[Key, Ran]:
        """What every unit ran in all."""
        spans = (span for tag in self._units for span in self._of_unit(tag, tag, 0))
        return ran(self._connection, spans)

    @cached_property
    def lists(self) -> dict[str, Checklist]:
        """The newest version of each list with a rhythm longer than a day, by name."""
        own = {row.checklist: row.text for row in self._connection.execute(statements.own_lists())}
        names = sorted({*builtin_names(), *own})
        lists = [parse(own[name]) if name in own else builtin(name) for name in names]
        return {one.name: one for one in lists if one.rhythm and one.rhythm != DAILY}

    @cached_property
    def _checks(self) -> dict[tuple[str, str], Row[Any]]:
        """The newest check of each kind that a question asks for, by machine and kind."""
        kinds: dict[str, Any] = {
            "today": (check.c.checklist == DAILY_LIST,),
            "leak": (check.c.leak_passed == 1,),
            "pop-off": (check.c.pop_off_open.is_not(None),),
        }
        for name in self.lists:
            complete = check.c.verdict != "incomplete"
            kinds[f"list {name}"] = (check.c.checklist == name, complete)
        of_kinds = newest(check, machine, **kinds).subquery()
        query = select(of_kinds, entry.c.by).join(entry, entry.c.seq == of_kinds.c.entry)
        return {(row.machine, row.which): row for row in self._rows(query, self._machines)}

    def check_today(self, tag: str) -> CheckDone | None:
        """The last daily check of the moment's calendar day, up to the moment."""
        row = self._checks.get((tag, "today"))
        if row is None or row.at_s < self._moment.day_began_s(self._moment.day):
            return None
        return CheckDone(row.entry, row.verdict, row.by, utc_from_epoch_s(row.at_s))

    def last_check(self, tag: str, name: str) -> tuple[int, str] | None:
        """When a list was last walked to its end, and the verdict."""
        row = self._checks.get((tag, f"list {name}"))
        return None if row is None else (row.at_s, row.verdict)

    def leak_tested_s(self, tag: str) -> int | None:
        """When the last leak test of the breathing system passed; None where none is recorded."""
        row = self._checks.get((tag, "leak"))
        return None if row is None else row.at_s

    @cached_property
    def _pop_off_of_cases(self) -> dict[str, Row[Any]]:
        told = case.c.pop_off_open.is_not(None)
        query = newest(case, machine, "began_s", told=(told,))
        return {row.machine: row for row in self._rows(query, self._machines)}

    def pop_off(self, tag: str) -> PopOff | None:
        """The pop-off valve as last recorded: in a check, or when a case was begun."""
        seen, begun = self._checks.get((tag, "pop-off")), self._pop_off_of_cases.get(tag)
        if begun is not None and (seen is None or begun.began_s >= seen.at_s):
            at = utc_from_epoch_s(begun.began_s)
            return PopOff(bool(begun.pop_off_open), begun.entry, at)
        if seen is None:
            return None
        return PopOff(bool(seen.pop_off_open), seen.entry, utc_from_epoch_s(seen.at_s))

    @cached_property
    def _oxygen(self) -> dict[tuple[str, str], Row[Any]]:
        query = statements.oxygen_seen()
        return {(row.machine, row.which): row for row in self._rows(query, self._machines)}

    def cylinder(self, tag: str) -> Gauge | None:
        """The last reading of the cylinder, from a reading, a change or a check."""
        row = self._oxygen.get((tag, "cylinder"))
        return None if row is None else Gauge(row.cylinder_psi, utc_from_epoch_s(row.at_s))

    def pipeline(self, tag: str) -> Gauge | None:
        """The last reading of the pipeline, from a reading or a check."""
        row = self._oxygen.get((tag, "pipeline"))
        return None if row is None else Gauge(row.pipeline_psi, utc_from_epoch_s(row.at_s))

    def cylinder_size(self, tag: str) -> str | None:
        """The size told at the last change of the cylinder."""
        row = self._oxygen.get((tag, "change"))
        return None if row is None else row.size

    def cylinder_readings(self, tag: str) -> list[Cylinder]:
        """The last gauges of a machine's cylinder, from the change of cylinder before them on."""
        rows = self._rows(statements.cylinder_readings(), {tag: tag})
        return [
            Cylinder(row.entry, row.at_s, row.event == "change", row.size, row.cylinder_psi)
            for row in rows
        ]

    def used_on(self, tag: str, spans: list[tuple[int, int, int]]) -> dict[Key, Use]:
        """What flowed on a machine in spans, each told as its key, its begin and its end."""
        return used(self._connection, [on_machine(key, tag, *span) for key, *span in spans])

    @cached_property
    def running(self) -> dict[str, Running]:
        """The case that runs on each machine."""
        rows = running_cases(self._connection, list(self._machines), self._moment.at_s)
        return {tag: Running(row.entry, row.began_s) for tag, row in rows.items()}

    @cached_property
    def begun(self) -> list[Unfinished]:
        """The checks that somebody walks, or left."""
        return unfinished_checks(self._connection)

    @cached_property
    def faults(self) -> dict[str, list[OpenFault]]:
        """What puts each unit out of service, oldest first."""
        found: dict[str, list[OpenFault]] = {}
        for row in self._rows(statements.open_faults(), self._units):
            at = utc_from_epoch_s(row.at_s)
            one = OpenFault(row.entry, row.unit, row.what, row.detail, at)
            found.setdefault(row.unit, []).append(one)
        return found

    @cached_property
    def agent_through(self) -> dict[Key, Use]:
        """The agent that went through each machine since its absorbent was changed."""
        wholes = [
            on_machine(tag, tag, change.at_s, self._moment.at_s)
            for tag, change in self.absorbent.items()
        ]
        spans = (through_machine(whole, self._vaporizers, self._stays) for whole in wholes)
        return used(self._connection, (span for parts in spans for span in parts))

    @cached_property
    def levels(self) -> dict[str, list[Level]]:
        """The last fills and readings of each vaporizer, oldest first, as far back as the last
        comparisons of its use need."""
        found: dict[str, list[Level]] = {}
        for row in self._rows(statements.last_levels(), self._vaporizers):
            reading = row.event == "reading"
            level = Level(row.entry, row.at_s, reading, row.added_ml, row.level_ml)
            found.setdefault(row.vaporizer, []).append(level)
        return found

    @cached_property
    def used(self) -> dict[Key, Use]:
        """What each vaporizer used from one known level to the next, by the number of the first."""
        return used(self._connection, self._use_spans())

    def _use_spans(self) -> "Iterator[Span]":
        for tag, levels in self.levels.items():
            known = [level for level in levels if level.level_ml is not None]
            pairs = [pair for pair in pairwise(known) if pair[1].before_ml is not None]
            spans = [(level, end.at_s) for level, end in pairs[-LAST_COMPARED:]]
            spans += [(level, self._moment.at_s) for level in known[-1:]]
            view, stays = self._vaporizers[tag], self._stays.get(tag, [])
            for level, until_s in spans:
                yield from with_vaporizer(level.entry, view, stays, level.at_s, until_s)
