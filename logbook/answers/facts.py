"""The facts that answers are worked out from, as they were read: plain values."""

from datetime import date, datetime
from decimal import Decimal

from logbook.answers.picked import Key
from logbook.answers.recorded import IN_TIME, Recorded
from logbook.value import Value
from logbook.vocabulary import AbsorbentKind


class Change(Value):
    """An absorbent change; ``mass_g`` is the new charge; None where it was not told."""

    entry: int
    at_s: int
    mass_g: Decimal | None
    kind: AbsorbentKind | None = None
    expiry: date | None = None
    recorded: Recorded = IN_TIME


class Exhausted(Value):
    """Granules that mean exhausted absorbent, as a check saw them."""

    entry: int
    at_s: int
    granules: str
    recorded: Recorded = IN_TIME


class Canister(Value):
    """A charcoal canister: when it was new, its weight then in grams, None where it was not told,
    and each weighing since, with the second at which it was weighed."""

    at_s: int
    fresh_g: Decimal | None
    weighed: tuple[tuple[int, Decimal], ...] = ()
    recorded: Recorded = IN_TIME

    @property
    def gained_g(self) -> Decimal | None:
        """What it gained, by its heaviest weight, because it can dry and lose weight again; None
        where it was not weighed fresh or never since."""
        if self.fresh_g is None or not self.weighed:
            return None
        return max(self.fresh_g, *(weight_g for _, weight_g in self.weighed)) - self.fresh_g

    @property
    def weighed_s(self) -> int | None:
        """When it was last weighed; None where it never was."""
        if self.weighed:
            return self.weighed[-1][0]
        return None if self.fresh_g is None else self.at_s

    @property
    def known_s(self) -> int:
        """Since when it is not known what it gained."""
        return self.at_s if self.gained_g is None else self.weighed[-1][0]


class Plan(Value):
    """The newest plan of an item on a unit."""

    unit: str
    item: str
    every: str | None
    run_hours: Decimal | None
    last: date | None

    @property
    def key(self) -> Key:
        """That of what ran since its clock began."""
        return ("plan", self.unit, self.item)


class Done(Value):
    """The newest service of an item that passed or failed; one not verified changes nothing."""

    entry: int
    at_s: int
    outcome: str
    recorded: Recorded = IN_TIME


class CheckDone(Value):
    """A check that was walked, by whom, and what came of it; ``late_s`` is how long afterwards it
    was recorded, None where that was soon enough."""

    entry: int
    verdict: str
    by: str
    at: datetime
    late_s: int | None = None


class PopOff(Value):
    """What was last recorded of the pop-off valve."""

    is_open: bool
    entry: int
    at: datetime
    recorded: Recorded = IN_TIME


class Gauge(Value):
    """A pressure in psi, when it was read, and how late that was recorded."""

    psi: Decimal
    at: datetime
    recorded: Recorded = IN_TIME


class OnMachine(Value):
    """An oxygen cylinder on a machine, by its number; its size, by letter or water volume, and its
    gauge as read since it was put on, each None where nobody told."""

    number: int
    size: str | None
    gauge: Gauge | None


class OpenFault(Value):
    """A fault that puts a unit out of service and that no return has ended."""

    entry: int
    unit: str
    what: str
    detail: str | None
    at: datetime
    recorded: Recorded = IN_TIME


class Running(Value):
    """A case that runs."""

    entry: int
    began_s: int


class Level(Value):
    """A fill or reading of a vaporizer, in mL; ``reading`` where nothing was added."""

    entry: int
    at_s: int
    reading: bool
    added_ml: Decimal | None
    level_ml: Decimal | None
    recorded: Recorded = IN_TIME

    @property
    def before_ml(self) -> Decimal | None:
        """The level before it; a fill tells it only where what was added is known, too."""
        if self.reading or self.level_ml is None:
            return self.level_ml
        return None if self.added_ml is None else self.level_ml - self.added_ml


class Cylinder(Value):
    """A gauge of an oxygen cylinder in psi; ``size`` where the cylinder was ``changed``."""

    entry: int
    at_s: int
    changed: bool
    size: str | None
    psi: Decimal
