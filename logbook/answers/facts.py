"""The facts that answers are worked out from, as they were read: plain values."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from logbook.answers.spans import Key
from logbook.times import local_text


@dataclass(frozen=True, slots=True)
class Change:
    """An absorbent change; ``mass_g`` is the new charge, None where it was not told."""

    entry: int
    at_s: int
    mass_g: Decimal | None


@dataclass(frozen=True, slots=True)
class Exhausted:
    """Granules that mean exhausted absorbent, as a check saw them."""

    entry: int
    at_s: int
    granules: str


@dataclass(frozen=True, slots=True)
class Canister:
    """A charcoal canister: when it was new, and its weights in grams since, None where untold."""

    at_s: int
    weights_g: tuple[Decimal | None, ...]


@dataclass(frozen=True, slots=True)
class Plan:
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


@dataclass(frozen=True, slots=True)
class Done:
    """The newest service of an item that passed or failed; one not verified changes nothing."""

    entry: int
    at_s: int
    outcome: str


@dataclass(frozen=True, slots=True)
class CheckDone:
    """A check that was walked, by whom, and what came of it."""

    entry: int
    verdict: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class PopOff:
    """What was last recorded of the pop-off valve."""

    is_open: bool
    entry: int
    at: datetime


@dataclass(frozen=True, slots=True)
class Gauge:
    """A pressure in psi and when it was read."""

    psi: Decimal
    at: datetime


@dataclass(frozen=True, slots=True)
class OpenFault:
    """A fault that puts a unit out of service and that no return has ended."""

    entry: int
    unit: str
    what: str
    detail: str | None
    at: datetime

    def sentence(self, zone: ZoneInfo) -> str:
        """What keeps the unit from use, since when, and where it is written."""
        detail = f", {self.detail}" if self.detail else ""
        since = local_text(self.at, zone)
        return f"{self.unit} out of service since {since}: {self.what}{detail} (entry {self.entry})"


@dataclass(frozen=True, slots=True)
class Running:
    """A case that runs."""

    entry: int
    began_s: int


@dataclass(frozen=True, slots=True)
class Level:
    """A fill or reading of a vaporizer, in mL; ``reading`` where nothing was added."""

    entry: int
    at_s: int
    reading: bool
    added_ml: Decimal | None
    level_ml: Decimal | None

    @property
    def before_ml(self) -> Decimal | None:
        """The level before it; a fill tells it only where what was added is known, too."""
        if self.reading or self.level_ml is None:
            return self.level_ml
        return None if self.added_ml is None else self.level_ml - self.added_ml


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A gauge of an oxygen cylinder in psi; ``size`` where the cylinder was ``changed``."""

    entry: int
    at_s: int
    changed: bool
    size: str | None
    psi: Decimal
