"""The register of an act: what its questions have in common, read once for all of them.

An act asks about more than one moment: what stood against a case when it began, and what is due now
that it has ended. The small tables are read whole, and looked up at each moment.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from functools import cached_property

from sqlalchemy import Connection, select

from logbook.answers import statements
from logbook.answers.facts import Plan
from logbook.answers.picked import Key
from logbook.answers.rules import Rulebook, rulebooks
from logbook.answers.spans import Ran, Span, Sums
from logbook.checklists import Checklist, builtin, builtin_names, parse
from logbook.projections.lookup import (
    ClinicView,
    MachineRows,
    MachineView,
    Stay,
    VaporizerTold,
    VaporizerView,
    clinic_view,
    machine_rows,
    machine_view,
    vaporizer_view,
    vaporizers_told,
)
from logbook.projections.tables import service_plan

DAILY = "P1D"


class Register:
    """Machines, vaporizers and their places, limits, plans, lists; and the hours added up so far.

    It is of one transaction, in which nothing is written any more.
    """

    def __init__(self, connection: Connection, clinic: ClinicView | None = None) -> None:
        self.connection = connection
        self._clinic = clinic
        self._sums = Sums(connection)

    @cached_property
    def clinic(self) -> ClinicView:
        """The clinic as it was told last; whoever knows it already hands it over."""
        return self._clinic or clinic_view(self.connection)

    def ran(self, spans: Iterable[Span]) -> dict[Key, Ran]:
        """What ran in each span; those of one key are added up."""
        return self._sums.ran(spans)

    @cached_property
    def _machine_rows(self) -> MachineRows:
        return machine_rows(self.connection)

    def machines(self, at_s: int) -> dict[str, MachineView]:
        """Every machine by its tag, as it stands at an instant."""
        return {tag: machine_view(rows, at_s) for tag, rows in self._machine_rows.items()}

    @cached_property
    def _vaporizers(self) -> dict[str, VaporizerTold]:
        return vaporizers_told(self.connection)

    def vaporizers(self, at_s: int) -> dict[str, VaporizerView]:
        """Every vaporizer by its tag, and where it stands at an instant."""
        return {tag: vaporizer_view(one, at_s) for tag, one in self._vaporizers.items()}

    @property
    def air_kpa(self) -> Decimal | None:
        """The pressure of the clinic's air, as it comes with its vaporizers; None if not told."""
        told = next(iter(self._vaporizers.values()), None)
        return vaporizer_view(told, 0).air_kpa if told else self.clinic.air_kpa

    @cached_property
    def stays(self) -> dict[str, list[Stay]]:
        """Where each vaporizer stood, in order of time."""
        return {tag: one.stays for tag, one in self._vaporizers.items()}

    @cached_property
    def rules_at(self) -> Callable[[int], Rulebook]:
        """The limits in force at an instant."""
        return rulebooks(self.connection)

    @cached_property
    def plans(self) -> Mapping[str, Sequence[tuple[int, Plan]]]:
        """Every plan of each unit with the second from which it counts, oldest first."""
        query = select(service_plan).order_by(service_plan.c.at_s, service_plan.c.entry)
        plans: dict[str, list[tuple[int, Plan]]] = defaultdict(list)
        for row in self.connection.execute(query):
            plan = Plan(row.unit, row.item, row.every, row.run_hours, row.last)
            plans[row.unit].append((row.at_s, plan))
        return plans

    @cached_property
    def lists(self) -> dict[str, Checklist]:
        """The newest version of each list with a rhythm longer than a day, by name."""
        own = {row.checklist: row.text for row in self.connection.execute(statements.own_lists())}
        names = sorted({*builtin_names(), *own})
        lists = [parse(own[name]) if name in own else builtin(name) for name in names]
        return {one.name: one for one in lists if one.rhythm and one.rhythm != DAILY}
