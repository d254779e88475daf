"""One thing that follows from an entry: values that every door tells in its way."""

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, ClassVar

from logbook.answers.agent import AgentLeft
from logbook.answers.case_flags import accuses
from logbook.answers.drift import Compared
from logbook.answers.facts import OpenFault
from logbook.answers.finding import CaseFinding
from logbook.answers.item import DueItem
from logbook.answers.outputs import Measured, OutputDrift
from logbook.answers.service_state import Back
from logbook.answers.standing import Standing
from logbook.arithmetic.allowed import Allowed
from logbook.errors import Act
from logbook.ledger.store import Entry
from logbook.value import Value

if TYPE_CHECKING:
    from logbook.entries.check import ItemAnswer


class Consequence(Value):
    """Something that follows from an entry; ``act`` is what a person may do about it, to the unit
    that ``about`` names."""

    act: ClassVar[Act | None] = None

    @property
    def about(self) -> str:
        """The tag of the unit that the act is about."""
        return ""

    @property
    def attention(self) -> bool:
        """Whether somebody must do something about it; a command then ends with that code."""
        return False

    @property
    def first(self) -> bool:
        """Whether it may harm now, so that it is said before what was saved."""
        return False


class Calling(Consequence):
    """Something that somebody must do something about."""

    @property
    def attention(self) -> bool:
        """It is."""
        return True


class Danger(Calling):
    """Something that may harm now."""

    @property
    def first(self) -> bool:
        """It is said before anything else."""
        return True


class Care(StrEnum):
    """What to do at once."""

    POP_OFF_SHUT = "the pop-off valve was seen shut"
    POP_OFF_UNSEEN = "nobody looked at the pop-off valve"
    POP_OFF_UNCONFIRMED = "the check does not confirm that the pop-off valve is open"
    CHANGE_ABSORBENT = "the absorbent was seen exhausted"
    USE_DRIFTS = "use stays away from what is worked out"


class Caution(Consequence):
    """Something to be done at once."""

    care: Care

    @property
    def attention(self) -> bool:
        """What nobody looked at, and use that drifts, is looked at in passing."""
        return self.care not in (Care.POP_OFF_UNSEEN, Care.USE_DRIFTS)

    @property
    def first(self) -> bool:
        """A valve that is shut harms with the next breath."""
        return self.care is Care.POP_OFF_SHUT


class Flagged(Consequence):
    """What stood against the machine when the case began."""

    flag: CaseFinding

    @property
    def attention(self) -> bool:
        """Where something was wrong."""
        return accuses(self.flag)

    @property
    def first(self) -> bool:
        """The case may still be stopped, or the next one."""
        return accuses(self.flag)


class NowDue(Calling):
    """A clock that has run out by now."""

    item: DueItem


class Stands(Consequence):
    """How a clock stands that the entry was about."""

    item: DueItem

    @property
    def attention(self) -> bool:
        """A clock that was never set is told, and hinders nobody who has just written it down."""
        return self.item.standing in (Standing.DUE, Standing.OVERDUE)


class Ran(Consequence):
    """How long the case ran that was ended."""

    machine: str
    ran_s: int


class RanLong(Calling):
    """The case ran longer than the limit, or than three times what its machine usually runs
    (``usual_s``, None where it ran too few cases): its end may have been forgotten."""

    act = Act.CORRECT_END
    case: int
    machine: str
    ran_s: int
    usual_s: int | None

    @property
    def about(self) -> str:
        """The case."""
        return str(self.case)


class HoursLeft(Consequence):
    """How much use is left of the absorbent: seconds, of a limit in hours."""

    machine: str
    left_s: int
    limit_h: Decimal


class OldCharge(Consequence):
    """How long the charge of absorbent that was taken out had been used, and how old it was."""

    used_s: int
    days: int


class Expired(Calling):
    """What was filled in had expired before: absorbent, or the agent of a vaporizer."""

    expired_on: date
    agent: bool


class HeavierThanCanister(Consequence):
    """The charge weighs more than the machine's canister is said to hold, both in grams."""

    mass_g: Decimal
    usual_g: Decimal


class LighterThanFresh(Consequence):
    """A charcoal canister weighs less than when it was fresh, told in grams."""

    fresh_g: Decimal


class Left(Consequence):
    """How much agent is left in a vaporizer."""

    vaporizer: str
    left: AgentLeft


class UseSeen(Consequence):
    """Use since the last reading beside use worked out, both in ``measure`` (mL, L)."""

    compared: Compared
    measure: str


class AboveCapacity(Calling):
    """The level lies above what the vaporizer holds."""

    act = Act.REPORT_OVERFILLED
    vaporizer: str

    @property
    def about(self) -> str:
        """The vaporizer."""
        return self.vaporizer


class CylinderLow(Calling):
    """The cylinder's gauge shows less than the limit."""

    limit_psi: Decimal


class PipelineOff(Calling):
    """The pipeline's gauge shows less or more than is allowed."""

    allowed_psi: Allowed


class WorstOutput(Consequence):
    """The output of a vaporizer that lay furthest from what was expected."""

    output: Measured


class NotCorrected(Consequence):
    """Nothing was corrected for altitude, because no pressure of the air is known."""

    act = Act.TELL_AIR


class OutputDrifts(Consequence):
    """How the output at a setting moves over the years."""

    drift: OutputDrift


class OutOfService(Danger):
    """The unit is out of service; after a fault ``until_cleared`` by its maker's procedure."""

    unit: str
    until_cleared: bool = False


class ComesBack(Consequence):
    """How the unit comes back: by what passed, named as evidence."""

    act = Act.RETURN_TO_SERVICE
    unit: str
    back: Back

    @property
    def about(self) -> str:
        """The unit."""
        return self.unit


class IsEvidence(Consequence):
    """The entry can bring the unit back that is still out of service."""

    act = Act.RETURN_ON
    unit: str
    entry: int

    @property
    def about(self) -> str:
        """The unit."""
        return self.unit


class StaysInService(Consequence):
    """The fault does not take the unit out of service."""

    act = Act.TAKE_OUT
    unit: str

    @property
    def about(self) -> str:
        """The unit."""
        return self.unit


class NotToBeUsed(Danger):
    """A fault that stands open on a vaporizer that was fitted."""

    fault: OpenFault


class LeakTestFirst(Consequence):
    """A vaporizer was fitted, or taken ``away``: the machine is tested for leaks before its next
    case."""

    machine: str
    vaporizer: str
    away: bool = False


class ItemFailed(Calling):
    """An item of a check that failed."""

    act = Act.REDO
    answer: "ItemAnswer"

    @property
    def about(self) -> str:
        """The item."""
        return self.answer.item


class LabelDiffers(Consequence):
    """The hours on a label are others than those that the ledger counts, both in hours."""

    label_h: Decimal
    counted_h: Decimal


class OthersUnread(Consequence):
    """A check read some cylinders of a machine, and nobody these others that day."""

    act = Act.READ_GAUGE
    machine: str
    numbers: tuple[int, ...]

    @property
    def about(self) -> str:
        """The machine."""
        return self.machine


class NotChecked(Calling):
    """Items were not done, so that the machine counts as not checked."""

    machine: str


class NowSays(Consequence):
    """What a corrected entry says now."""

    entry: Entry
