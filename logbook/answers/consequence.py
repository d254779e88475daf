"""One thing that follows from an entry: values that every door tells in its way."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import ClassVar

from logbook.answers.agent import AgentLeft
from logbook.answers.drift import Compared
from logbook.answers.facts import OpenFault
from logbook.answers.item import DueItem
from logbook.arithmetic.allowed import Allowed
from logbook.entries.check import ItemAnswer
from logbook.errors import Act
from logbook.ledger.store import Entry


@dataclass(frozen=True, slots=True)
class Consequence:
    """Something that follows from an entry; ``act`` is what a person may do about it, to the unit
    that ``about`` names."""

    act: ClassVar[Act | None] = None

    @property
    def about(self) -> str:
        """The tag of the unit that the act is about."""
        return ""


class Care(StrEnum):
    """What to do at once."""

    POP_OFF_SHUT = "the pop-off valve was seen shut"
    POP_OFF_UNSEEN = "nobody looked at the pop-off valve"
    POP_OFF_UNCONFIRMED = "the check does not confirm that the pop-off valve is open"
    CHANGE_ABSORBENT = "the absorbent was seen exhausted"
    USE_DRIFTS = "use stays away from what is worked out"


@dataclass(frozen=True, slots=True)
class Caution(Consequence):
    """Something to be done at once."""

    care: Care


@dataclass(frozen=True, slots=True)
class Flagged(Consequence):
    """What stood against the machine when the case began."""

    flag: str


@dataclass(frozen=True, slots=True)
class NowDue(Consequence):
    """A clock that has run out by now."""

    item: DueItem


@dataclass(frozen=True, slots=True)
class Stands(Consequence):
    """How a clock stands that the entry was about."""

    item: DueItem


@dataclass(frozen=True, slots=True)
class Ran(Consequence):
    """How long the case ran that was ended."""

    machine: str
    ran_s: int


@dataclass(frozen=True, slots=True)
class Expired(Consequence):
    """The absorbent had expired before it was filled in."""

    expired_on: date


@dataclass(frozen=True, slots=True)
class Left(Consequence):
    """How much agent is left in a vaporizer."""

    vaporizer: str
    left: AgentLeft


@dataclass(frozen=True, slots=True)
class UseSeen(Consequence):
    """Use since the last reading beside use worked out, both in ``measure`` (mL, L)."""

    compared: Compared
    measure: str


@dataclass(frozen=True, slots=True)
class AboveCapacity(Consequence):
    """The level lies above what the vaporizer holds."""

    act = Act.REPORT_OVERFILLED
    vaporizer: str

    @property
    def about(self) -> str:
        """The vaporizer."""
        return self.vaporizer


@dataclass(frozen=True, slots=True)
class CylinderLow(Consequence):
    """The cylinder's gauge shows less than the limit."""

    limit_psi: Decimal


@dataclass(frozen=True, slots=True)
class PipelineOff(Consequence):
    """The pipeline's gauge shows less or more than is allowed."""

    allowed_psi: Allowed


@dataclass(frozen=True, slots=True)
class OutOfService(Consequence):
    """The unit is out of service; after a fault ``until_cleared`` by its maker's procedure."""

    unit: str
    until_cleared: bool = False


@dataclass(frozen=True, slots=True)
class ComesBack(Consequence):
    """How the unit comes back: a check or service that passed, named as evidence."""

    act = Act.RETURN_TO_SERVICE
    unit: str

    @property
    def about(self) -> str:
        """The unit."""
        return self.unit


@dataclass(frozen=True, slots=True)
class StaysInService(Consequence):
    """The fault does not take the unit out of service."""

    act = Act.TAKE_OUT
    unit: str

    @property
    def about(self) -> str:
        """The unit."""
        return self.unit


@dataclass(frozen=True, slots=True)
class NotToBeUsed(Consequence):
    """A fault that stands open on a vaporizer that was fitted."""

    fault: OpenFault


@dataclass(frozen=True, slots=True)
class LeakTestFirst(Consequence):
    """A vaporizer was fitted: the machine is tested for leaks before its next case."""

    machine: str
    vaporizer: str


@dataclass(frozen=True, slots=True)
class ItemFailed(Consequence):
    """An item of a check that failed."""

    answer: ItemAnswer


@dataclass(frozen=True, slots=True)
class NotChecked(Consequence):
    """Items were not done, so that the machine counts as not checked."""

    machine: str


@dataclass(frozen=True, slots=True)
class NowSays(Consequence):
    """What a corrected entry says now."""

    entry: Entry
