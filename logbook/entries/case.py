"""Cases: how long a machine ran, on which circuit, at which settings."""

from typing import Annotated, ClassVar

from pydantic import Field, StringConstraints

from logbook.entries.base import (
    Body,
    DialPercent,
    FlowMlMin,
    Instant,
    Part,
    Seq,
    Tag,
    WeightG,
    Words,
)
from logbook.entries.explaining import HASH
from logbook.vocabulary import LONGEST_CASE_S, CircuitWord


class Segment(Part):
    """A stretch of a case at one setting; the last one without a duration lasts to the end."""

    duration_s: Annotated[int, Field(gt=0, le=LONGEST_CASE_S)] | None = None
    flow_ml_min: FlowMlMin | None = None
    dial_percent: DialPercent | None = None


Digest = Annotated[str, StringConstraints(pattern=HASH)]


class _CaseBody(Body):
    """What is told of a case, whether afterwards or at its begin.

    A patient's reference stands beside the chain, and ``reference_digest`` here; entries of before
    hold the ``reference`` itself.
    """

    machine: Tag
    circuit: CircuitWord = "unknown"
    weight_g: WeightG | None = None
    species: Words | None = None
    vaporizer: Tag | None = None
    segments: tuple[Segment, ...] = ()
    reference: Words | None = None
    reference_digest: Digest | None = None


class Case(_CaseBody):
    """A case logged afterwards. The entry's ``happened_at`` is when it began."""

    kind: ClassVar[str] = "case"
    ended_at: Instant


class CaseBegin(_CaseBody):
    """A case that begins now; ``case_end`` closes it."""

    kind: ClassVar[str] = "case_begin"
    pop_off_open: bool | None = None


class CaseEnd(Body):
    """The end of the case that entry ``case_entry`` began; its segments replace the first ones."""

    kind: ClassVar[str] = "case_end"
    case_entry: Seq
    segments: tuple[Segment, ...] = ()
