"""Service: what is planned on a unit, and what was done to it."""

from decimal import Decimal
from typing import Annotated, ClassVar, Self

from pydantic import Field, model_validator

from logbook.arithmetic.allowed import Allowed
from logbook.arithmetic.vaporizer import allowed_output, expected_output
from logbook.entries.base import (
    AmbientKpa,
    Body,
    DialPercent,
    IsoDay,
    NotNegative,
    OutputPercent,
    Part,
    Positive,
    Sha256,
    Tag,
    TemperatureC,
    Words,
)
from logbook.entries.explaining import fields_disagree
from logbook.vocabulary import CarrierGas, Outcome, VaporizerDesign, Verified


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


OUTSIDE = "an output lies outside the tolerance, so the outcome is not passed"


class Service(Body):
    """A service that was done. ``happened_at`` is when; ``done_by`` who did the work;
    ``certificate_sha256`` that of the scanned certificate, which itself stays outside.

    Until 0.2.0 it also told a vaporizer's outputs, judged by the dial alone.
    """

    kind: ClassVar[str] = "service"
    unit: Tag
    item: Words
    outcome: Outcome
    done_by: Words | None = None
    certificate: Words | None = None
    certificate_sha256: Sha256 | None = None
    outputs: tuple[Output, ...] = ()
    tolerance_percent: Positive | None = None

    @model_validator(mode="after")
    def _outputs_bear_out_the_outcome(self) -> Self:
        """A vaporizer outside its tolerance has not passed, whatever the form says."""
        if self.outputs and self.tolerance_percent is None:
            raise fields_disagree("measured outputs need the tolerance that judged them")
        if self.outcome == "passed" and any(self.outside(output) for output in self.outputs):
            raise fields_disagree(OUTSIDE)
        return self

    def expected(self, output: Output) -> Decimal:
        """What was expected of an output, in vol %."""
        return output.dial_percent

    def allowed(self, output: Output) -> Allowed:
        """What an output may be, in vol %."""
        return allowed_output(output.dial_percent, self.tolerance_percent or Decimal(0))

    def outside(self, output: Output) -> bool:
        """Whether an output misses its dial setting by more than the tolerance."""
        return not self.allowed(output).includes(output.measured_percent)


class OutputVerification(Body):
    """A vaporizer's output, measured at settings of its dial, and all that it was judged by.

    ``ambient_kpa`` is the air's pressure while it was measured; without it nothing is corrected
    for altitude. The larger of the two tolerances counts. ``certificate_sha256`` is that of the
    scanned certificate, which itself stays outside.
    """

    kind: ClassVar[str] = "output_verification"
    vaporizer: Tag
    outputs: Annotated[tuple[Output, ...], Field(min_length=1)]
    outcome: Verified
    tolerance_percent: Positive
    tolerance_least_percent: NotNegative
    design: VaporizerDesign
    ambient_kpa: AmbientKpa | None = None
    analyser: Words | None = None
    temperature_c: TemperatureC | None = None
    carrier_gas: CarrierGas | None = None
    done_by: Words | None = None
    certificate: Words | None = None
    certificate_sha256: Sha256 | None = None

    @model_validator(mode="after")
    def _outputs_bear_out_the_outcome(self) -> Self:
        """One may fail for another reason; none passes outside its tolerance."""
        if self.outcome == "passed" and any(self.outside(output) for output in self.outputs):
            raise fields_disagree(OUTSIDE)
        return self

    def expected(self, output: Output) -> Decimal:
        """What an analyser shows of a perfect vaporizer at the output's dial, in vol %."""
        return expected_output(output.dial_percent, self.design, self.ambient_kpa)

    def allowed(self, output: Output) -> Allowed:
        """What an output may be, in vol %."""
        expected = self.expected(output)
        return allowed_output(expected, self.tolerance_percent, self.tolerance_least_percent)

    def outside(self, output: Output) -> bool:
        """Whether an output misses what is expected by more than the tolerance."""
        return not self.allowed(output).includes(output.measured_percent)
