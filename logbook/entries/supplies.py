"""What is used up: absorbent, agent, oxygen, charcoal."""

from typing import Annotated, ClassVar, Self

from pydantic import Field, model_validator

from logbook.entries.base import (
    Body,
    ChargeG,
    GaugePsi,
    IsoDay,
    LiquidMl,
    Positive,
    Tag,
    WaterL,
    Words,
)
from logbook.entries.explaining import fields_disagree
from logbook.units import format_decimal
from logbook.vocabulary import MOST_CYLINDERS, AbsorbentKind, CylinderSize


class AbsorbentChange(Body):
    """Fresh absorbent in the canister; ``mass_g`` is the new charge."""

    kind: ClassVar[str] = "absorbent_change"
    machine: Tag
    lot: Words | None = None
    expiry: IsoDay | None = None
    mass_g: ChargeG | None = None
    absorbent_kind: AbsorbentKind | None = None
    """Where it is not the kind that the machine usually takes."""
    old_granules: Words | None = None
    reason: Words | None = None


class AgentFill(Body):
    """Agent poured in: how much was added, or the level after it, or both; in mL of liquid."""

    kind: ClassVar[str] = "agent_fill"
    vaporizer: Tag
    added_ml: LiquidMl | None = None
    level_ml: LiquidMl | None = None
    lot: Words | None = None
    expiry: IsoDay | None = None

    @model_validator(mode="after")
    def _says_how_much(self) -> Self:
        if self.added_ml is None and self.level_ml is None:
            raise fields_disagree("a fill needs the volume added or the level reached")
        return self


class AgentLevel(Body):
    """The level read at the sight glass, in mL of liquid."""

    kind: ClassVar[str] = "agent_level"
    vaporizer: Tag
    level_ml: LiquidMl


CylinderNumber = Annotated[int, Field(ge=1, le=MOST_CYLINDERS)]
"""Which of a machine's oxygen cylinders, in the order of its profile; the first if not told."""


class OxygenReading(Body):
    """Gauges as read, in psi."""

    kind: ClassVar[str] = "oxygen_reading"
    machine: Tag
    cylinder_psi: GaugePsi | None = None
    pipeline_psi: GaugePsi | None = None
    number: CylinderNumber | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.cylinder_psi is None and self.pipeline_psi is None:
            raise fields_disagree("a reading needs the cylinder or the pipeline pressure")
        if self.cylinder_psi is None and self.number is not None:
            raise fields_disagree("the number of a cylinder needs its pressure")
        return self


class CylinderChange(Body):
    """Another oxygen cylinder on the machine, with its gauge in psi where it was read."""

    kind: ClassVar[str] = "cylinder_change"
    machine: Tag
    size: CylinderSize | None = None
    water_l: WaterL | None = None
    """The water volume stamped on it; it counts before the letter, which means another cylinder in
    another country."""
    cylinder_psi: GaugePsi | None = None
    number: CylinderNumber | None = None

    @property
    def told_size(self) -> str | None:
        """Its letter, or its water volume as in ``4.7L``."""
        return self.size if self.water_l is None else f"{format_decimal(self.water_l)}L"


class CharcoalChange(Body):
    """A fresh charcoal canister, with its weight in grams where it was weighed."""

    kind: ClassVar[str] = "charcoal_change"
    machine: Tag
    weight_g: Positive | None = None


class CharcoalWeight(Body):
    """The weight of the charcoal canister in use, in grams."""

    kind: ClassVar[str] = "charcoal_weight"
    machine: Tag
    weight_g: Positive
