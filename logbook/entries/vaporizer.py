"""Vaporizers: added, fitted to a machine, removed from it."""

from typing import ClassVar, Self

from pydantic import model_validator

from logbook.entries.base import Body, CapacityMl, LiquidMl, Tag, Words
from logbook.entries.explaining import fields_disagree
from logbook.vocabulary import Agent, VaporizerDesign


class Vaporizer(Body):
    """A vaporizer under its tag; volumes in mL of liquid agent."""

    kind: ClassVar[str] = "vaporizer"
    vaporizer: Tag
    agent: Agent
    serial: Words | None = None
    capacity_ml: CapacityMl | None = None
    low_mark_ml: LiquidMl | None = None
    design: VaporizerDesign | None = None
    """How it works, where it is not as usual with its agent."""

    @model_validator(mode="after")
    def _mark_below_capacity(self) -> Self:
        if self.capacity_ml and self.low_mark_ml and self.low_mark_ml >= self.capacity_ml:
            raise fields_disagree(
                f"the low mark must lie below the capacity of {self.capacity_ml} mL"
            )
        return self


class VaporizerFitting(Body):
    """From this moment the vaporizer stands on this machine, wherever it stood before."""

    kind: ClassVar[str] = "vaporizer_fitting"
    vaporizer: Tag
    machine: Tag


class VaporizerRemoval(Body):
    """From this moment the vaporizer stands on no machine."""

    kind: ClassVar[str] = "vaporizer_removal"
    vaporizer: Tag
    reason: Words | None = None
