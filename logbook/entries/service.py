"""Service: what is planned on a unit, and what was done to it."""

from decimal import Decimal
from typing import ClassVar, Self

from pydantic import model_validator

from logbook.arithmetic.vaporizer import allowed_output
from logbook.entries.base import (
    Body,
    DialPercent,
    IsoDay,
    OutputPercent,
    Part,
    Positive,
    Tag,
    Words,
)
from logbook.entries.explaining import fields_disagree
from logbook.vocabulary import Outcome


class ServicePlan(Body):
    """A service that comes round by the calendar, by run hours, or both.

    ``every`` is an ISO 8601 duration (``P12M``) or an RFC 5545 rule; ``last`` the day it was
    last done, as far as known before this ledger; a later plan of the same item replaces it.
    """

    kind: ClassVar[str] = "service_plan"
    unit: Tag
    item: Words
    every: Words | None = None
    run_hours: Positive | None = None
    last: IsoDay | None = None
    source: Words | None = None

    @model_validator(mode="after")
    def _has_a_rhythm(self) -> Self:
        if self.every is None and self.run_hours is None:
            raise fields_disagree("a plan needs an interval such as P12M or a number of run hours")
        return self


class Output(Part):
    """A vaporizer's measured output at one dial setting, both in volume percent."""

    dial_percent: DialPercent
    measured_percent: OutputPercent


class Service(Body):
    """A service that was done. ``happened_at`` is when; ``done_by`` who did the work."""

    kind: ClassVar[str] = "service"
    unit: Tag
    item: Words
    outcome: Outcome
    done_by: Words | None = None
    certificate: Words | None = None
    outputs: tuple[Output, ...] = ()
    tolerance_percent: Positive | None = None

    @model_validator(mode="after")
    def _outputs_bear_out_the_outcome(self) -> Self:
        """A vaporizer outside its tolerance has not passed, whatever the form says."""
        if self.outputs and self.tolerance_percent is None:
            raise fields_disagree("measured outputs need the tolerance that judged them")
        if self.outcome == "passed" and any(self.outside(output) for output in self.outputs):
            raise fields_disagree(
                "an output lies outside the tolerance, so the outcome is not passed"
            )
        return self

    def outside(self, output: Output) -> bool:
        """Whether an output misses its dial setting by more than the tolerance."""
        allowed = allowed_output(output.dial_percent, self.tolerance_percent or Decimal(0))
        return not allowed.includes(output.measured_percent)
