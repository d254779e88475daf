"""What was last recorded of each unit: every fact read once, for all units, when first needed."""

from collections.abc import Mapping
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any

from sqlalchemy import Row

from logbook.answers import statements
from logbook.answers.cylinders import cylinders_on, how_many
from logbook.answers.facts import (
    Canister,
    Change,
    Cylinder,
    Done,
    Exhausted,
    Gauge,
    Level,
    OnMachine,
    OpenFault,
    Plan,
    Running,
)
from logbook.answers.last_checks import LastChecks
from logbook.answers.moment import Moment
from logbook.answers.recorded import IN_TIME, LATE, Recorded, late
from logbook.answers.register import Register
from logbook.answers.unfinished import Unfinished, unfinished_checks
from logbook.checklists import Checklist
from logbook.projections.lookup import MachineView, VaporizerView, running_cases
from logbook.times import epoch_s, utc_from_epoch_s, utc_parse

if TYPE_CHECKING:
    from collections.abc import Iterator


def clock_from(plan: Plan, done: Done | None, moment: Moment) -> tuple[date | None, int]:
    """The day and the second from which the clocks of a plan run, after what was done last."""
    if done is not None:
        day = moment.day_of(done.at_s)
        if plan.last is None or day >= plan.last:
            return day, done.at_s
    return plan.last, moment.day_began_s(plan.last) if plan.last else 0


class Seen:
    """What the record last says of some machines and vaporizers up to a moment."""

    def __init__(
        self, register: Register, moment: Moment, machines: Mapping[str, MachineView],
        vaporizers: Mapping[str, VaporizerView],
    ) -> None:  # fmt: skip
        self._register, self._moment = register, moment
        self._machines, self._vaporizers = machines, vaporizers
        self._connection, self._stays = register.connection, register.stays
        self._units = {**machines, **vaporizers}

    def _rows(self, query: Any, units: Mapping[str, Any]) -> "Iterator[Row[Any]]":
        told = {"units": list(units), "at_s": self._moment.at_s}
        return iter(self._connection.execute(query, told))

    def how_late(self, at_s: int, recorded_at: str) -> Recorded:
        """How long after something happened it was recorded."""
        recorded_s = epoch_s(utc_parse(recorded_at))
        late_s = late(recorded_s - at_s, self._register.rules_at(self._moment.at_s).clinic[LATE])
        if late_s is None:
            return IN_TIME
        how = Recorded(late_s, clock_back=False, before_logbook=False)
        return how.taken_over(self._moment.day_of(at_s), self._register.clinic.since)

    @cached_property
    def absorbent(self) -> dict[str, Change]:
        """The last absorbent change of each machine."""
        return {
            row.machine: Change(
                row.entry,
                row.at_s,
                row.mass_g,
                row.absorbent_kind,
                row.expiry,
                self.how_late(row.at_s, row.recorded_at),
            )
            for row in self._rows(statements.absorbent_changes(), self._machines)
        }

    @cached_property
    def exhausted(self) -> dict[str, Exhausted]:
        """The first check since the last change that saw exhausted absorbent."""
        seen: dict[str, Exhausted] = {}
        for row in self._rows(statements.exhausted_seen(), self._machines):
            change = self.absorbent.get(row.machine)
            if change and (row.at_s, row.entry) > (change.at_s, change.entry):
                how = self.how_late(row.at_s, row.recorded_at)
                seen.setdefault(row.machine, Exhausted(row.entry, row.at_s, row.exhausted, how))
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
            tag: Canister(
                rows[0].at_s,
                rows[0].weight_g,
                tuple((row.at_s, row.weight_g) for row in rows[1:] if row.weight_g is not None),
                self.how_late(rows[0].at_s, rows[0].recorded_at),
            )
            for tag, rows in since.items()
        }

    @cached_property
    def plans(self) -> list[Plan]:
        """The newest plan of each item on each unit; a plan counts from before the day on which it
        was entered, like the units themselves."""
        plans: dict[tuple[str, str], Plan] = {}
        for tag in self._units:
            for at_s, plan in self._register.plans.get(tag, ()):
                if at_s <= self._moment.at_s or (tag, plan.item) not in plans:
                    plans[tag, plan.item] = plan
        return list(plans.values())

    @cached_property
    def services(self) -> dict[tuple[str, str], Done]:
        """The newest service of each item that is planned, and verification of each vaporizer."""
        return {
            (row.unit, row.item): Done(
                row.entry, row.at_s, row.outcome, self.how_late(row.at_s, row.recorded_at)
            )
            for row in self._rows(
                statements.last_services(), {**self._machines, **self._vaporizers}
            )
        }

    def clock_of(self, plan: Plan) -> tuple[date | None, int]:
        """The day and the second from which the clocks of a plan run."""
        return clock_from(plan, self.services.get((plan.unit, plan.item)), self._moment)

    @property
    def lists(self) -> dict[str, Checklist]:
        """The newest version of each list with a rhythm longer than a day, by name."""
        return self._register.lists

    @cached_property
    def checks(self) -> LastChecks:
        """What the last checks of each kind tell of the machines."""
        return LastChecks(self._machines, self.lists, self._moment, self._rows, self.how_late)

    @cached_property
    def _oxygen(self) -> dict[tuple[str, str], Row[Any]]:
        query = statements.oxygen_seen(max(map(how_many, self._machines.values()), default=1))
        return {(row.machine, row.which): row for row in self._rows(query, self._machines)}

    def cylinders(self, tag: str) -> list[OnMachine]:
        """The oxygen cylinders on a machine, with what was last read of each since it was put on,
        in a reading, a change or a check; none on a machine that was retired meanwhile."""
        if tag not in self._machines:
            return []
        return cylinders_on(self._machines[tag], self._oxygen, self.how_late)

    def fed_by_pipeline(self, tag: str) -> bool:
        """Whether a pipeline feeds a machine, so that its cylinders wait for it to fail: as it was
        told, or else as a pipeline was ever read on it."""
        told = self._machines[tag].pipeline
        return (tag, "pipeline") in self._oxygen if told is None else told

    def pipeline(self, tag: str) -> Gauge | None:
        """The last reading of the pipeline, from a reading or a check."""
        row = self._oxygen.get((tag, "pipeline"))
        if row is None:
            return None
        how = self.how_late(row.at_s, row.recorded_at)
        return Gauge(row.pipeline_psi, utc_from_epoch_s(row.at_s), how)

    def cylinder_readings(self, tag: str) -> list[Cylinder]:
        """The last gauges of a machine's cylinder, from the change of cylinder before them on."""
        rows = self._rows(statements.cylinder_readings(), {tag: tag})
        return [
            Cylinder(row.entry, row.at_s, row.event == "change", row.size, row.cylinder_psi)
            for row in rows
        ]

    @cached_property
    def running(self) -> dict[str, Running]:
        """The case that runs on each machine."""
        rows = running_cases(self._connection, list(self._machines), self._moment.at_s)
        return {tag: Running(row.entry, row.began_s) for tag, row in rows.items()}

    @cached_property
    def begun(self) -> list[Unfinished]:
        """The checks that somebody walks, or left."""
        return unfinished_checks(self._connection)

    @property
    def faults(self) -> dict[str, list[OpenFault]]:
        """What puts each unit out of service, oldest first."""
        return self._open[True]

    @property
    def noted(self) -> dict[str, list[OpenFault]]:
        """The open faults that leave each unit in service, oldest first."""
        return self._open[False]

    @cached_property
    def _open(self) -> dict[bool, dict[str, list[OpenFault]]]:
        """The open faults of each unit, by whether they stop it."""
        found: dict[bool, dict[str, list[OpenFault]]] = {True: {}, False: {}}
        for row in self._rows(statements.open_faults(), self._units):
            at = utc_from_epoch_s(row.at_s)
            how = self.how_late(row.at_s, row.recorded_at)
            one = OpenFault(row.entry, row.unit, row.what, row.detail, at, how)
            found[bool(row.stops)].setdefault(row.unit, []).append(one)
        return found

    @cached_property
    def evidence(self) -> dict[str, list[int]]:
        """The entries that can bring each unit back that is out of service, the newest first."""
        last = {unit: faults[-1] for unit, faults in self.faults.items()}
        if not last:
            return {}
        since_s = min(epoch_s(one.at) for one in last.values())
        told = {"units": list(last), "since_s": since_s, "at_s": self._moment.at_s}
        found: dict[str, list[int]] = {}
        for row in self._connection.execute(statements.evidence(), told):
            fault = last[row.unit]
            if (row.seen_s, row.entry) > (epoch_s(fault.at), fault.entry):
                found.setdefault(row.unit, []).insert(0, row.entry)
        return found

    @cached_property
    def levels(self) -> dict[str, list[Level]]:
        """The last fills and readings of each vaporizer, oldest first, as far back as the last
        comparisons of its use need."""
        found: dict[str, list[Level]] = {}
        for row in self._rows(statements.last_levels(), self._vaporizers):
            reading = row.event == "reading"
            how = self.how_late(row.at_s, row.recorded_at)
            level = Level(row.entry, row.at_s, reading, row.added_ml, row.level_ml, how)
            found.setdefault(row.vaporizer, []).append(level)
        return found
