"""What speaks for or against the next use of a machine: values, which a sheet words.

Times are the clinic's own.
"""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from typing import Literal

from logbook.answers.agent import AgentLeft
from logbook.answers.facts import CheckDone, Gauge, OnMachine, OpenFault, PopOff
from logbook.answers.item import DueItem
from logbook.answers.oxygen import OxygenLeft
from logbook.answers.unfinished import Unfinished
from logbook.arithmetic.allowed import Allowed

Weight = Literal["stops", "unknown", "remark", "fine"]
WORST_FIRST: tuple[Weight, ...] = ("stops", "unknown", "remark", "fine")


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that speaks for or against."""

    weight: Weight


@dataclass(frozen=True, slots=True)
class OutOfService(Reason):
    """A fault of the machine, or of a vaporizer on it."""

    fault: OpenFault
    since: datetime


@dataclass(frozen=True, slots=True)
class OpenFaultNoted(Reason):
    """An open fault of the machine, or of a vaporizer on it, that leaves it in service."""

    fault: OpenFault
    since: datetime


@dataclass(frozen=True, slots=True)
class InUse(Reason):
    """A case that runs."""

    case: int
    since: datetime


@dataclass(frozen=True, slots=True)
class NotChecked(Reason):
    """The daily check of the day is not recorded."""


@dataclass(frozen=True, slots=True)
class Checked(Reason):
    """The last daily check of the day."""

    done: CheckDone
    at: datetime


@dataclass(frozen=True, slots=True)
class BeingChecked(Reason):
    """A check that somebody walks or left, of which nothing counts before it is finished."""

    begun: Unfinished
    now: datetime
    limit_h: Decimal


@dataclass(frozen=True, slots=True)
class PopOffUnseen(Reason):
    """Nobody ever recorded the pop-off valve open."""


@dataclass(frozen=True, slots=True)
class PopOffSeen(Reason):
    """The pop-off valve as it was last recorded."""

    seen: PopOff
    at: datetime


@dataclass(frozen=True, slots=True)
class Stands(Reason):
    """How a clock stands; ``used`` is False where the circuit does not use what it is on."""

    item: DueItem
    used: bool = True


@dataclass(frozen=True, slots=True)
class AbsorbentShort(Reason):
    """The absorbent has less left than the case needs, both in seconds."""

    left_s: int
    planned_s: int


@dataclass(frozen=True, slots=True)
class NoVaporizer(Reason):
    """No vaporizer stands on the machine, or none of the ``agent`` that the case takes."""

    agent: str | None


@dataclass(frozen=True, slots=True)
class UseDrifts(Reason):
    """The use of a vaporizer stays away from what dial and flow say."""

    vaporizer: str


@dataclass(frozen=True, slots=True)
class LevelUnknown(Reason):
    """No level of a vaporizer is recorded."""

    vaporizer: str


class Level(StrEnum):
    """How the agent that is probably left compares with what is needed and what can be there."""

    OVERFULL = "more than it holds"
    LOW = "at the low mark, or too little for the case"
    UNTOLD = "less cases without flow or dial"
    ENOUGH = "enough"


@dataclass(frozen=True, slots=True)
class AgentStands(Reason):
    """About how much agent is left; what the case needs above the low mark, in mL."""

    vaporizer: str
    left: AgentLeft
    level: Level
    needed_ml: Decimal


@dataclass(frozen=True, slots=True)
class PipelineReads(Reason):
    """The pipeline as it was read that day, and what is allowed."""

    read: Gauge
    allowed: Allowed


@dataclass(frozen=True, slots=True)
class CylinderLow(Reason):
    """A cylinder is below the low mark; on the pipeline it could not stand in for it."""

    cylinder: OnMachine
    reserve: bool


@dataclass(frozen=True, slots=True)
class NoGauge(Reason):
    """No gauge of oxygen is recorded since the cylinder was put on."""


@dataclass(frozen=True, slots=True)
class NotCounted(Reason):
    """A cylinder whose gauge or size nobody told beside another that counts."""

    cylinder: OnMachine


@dataclass(frozen=True, slots=True)
class SizeUnknown(Reason):
    """The only gauge that was read is of a cylinder whose size nobody told."""

    cylinder: OnMachine


@dataclass(frozen=True, slots=True)
class OxygenStands(Reason):
    """What the cylinders hold; ``needed_l`` is what the case needs, ``minutes`` how long it lasts
    at ``flow_ml_min``; each None where nobody asks."""

    left: OxygenLeft
    usable_l: Decimal
    needed_l: Decimal | None = None
    minutes: int | None = None
    flow_ml_min: Decimal | None = None


@dataclass(frozen=True, slots=True)
class LeakTestOwed(Reason):
    """No leak test since the machine was opened: by a vaporizer that was fitted or taken ``away``,
    or by the change of its absorbent."""

    vaporizer: str | None
    at: datetime
    away: bool = False
