"""Pre-use checks: what was seen, and the limits that judged it."""

from decimal import Decimal
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from logbook.arithmetic.allowed import Allowed
from logbook.checklists.model import READ_IN, Reads, State, Tests, Verdict
from logbook.entries.base import (
    Amount,
    Body,
    Initials,
    Instant,
    Part,
    PressureCmh2o,
    Seq,
    Tag,
    Words,
)
from logbook.entries.explaining import fields_disagree
from logbook.entries.supplies import CylinderNumber
from logbook.units import shown
from logbook.vocabulary import LONGEST_HOLD_S

_READ_BY_KEY: dict[str, Reads] = {
    "cylinder-pressure": "cylinder",
    "pipeline-pressure": "pipeline",
    "charcoal-weight": "charcoal",
}
_TESTED_BY_KEY: dict[str, Tests] = {"breathing-system-leak": "leak"}
"""What items read and test that do not say it themselves, as none did in 0.1.0."""


class Judgement(Part):
    """The rule that judged a value: at least ``low`` and at most ``high``, in ``unit``, at a
    pressure: the one that was read, and where it was not told, the one of the limit."""

    limit: str
    low: Amount | None = None
    high: Amount | None = None
    unit: str
    pressure_cmh2o: Amount | None = None

    def allows(self, value: Decimal) -> bool:
        """Whether the value lies within the rule, bounds included."""
        return Allowed(self.low, self.high).includes(value)


class ItemAnswer(Part):
    """One item of the list: its state, and what was measured or chosen.

    ``stops`` says that the failure of this item puts the machine out of service;
    ``absorbent_due`` that the choice means exhausted absorbent. ``reads`` says of what gauge or
    scale the value is a reading, ``number`` which oxygen cylinder it is of, the first if not told,
    and ``tests`` what the item tests. ``timed`` says of a hold
    whether the program timed it or a person typed it; ``at`` when the answer was given, and ``by``
    whom. ``carried`` marks an answer that stands in the check of which other items are done again.
    ``counted`` is what the ledger itself counted of that which the value reads, in its unit.
    ``pressure_cmh2o`` is the pressure of a test as it was read, of a timed fall at its begin, and
    ``leak_ml_min`` the flow that judged such a fall, by the compliance on record.
    Entries of 0.1.0 lack all of these.
    """

    item: str
    state: State
    value: Amount | None = None
    unit: str | None = None
    held_s: Annotated[int, Field(ge=0, le=LONGEST_HOLD_S)] | None = None
    choice: str | None = None
    judgement: Judgement | None = None
    timed: bool | None = None
    reads: Reads | None = None
    number: CylinderNumber | None = None
    tests: Tests | None = None
    at: Instant | None = None
    by: Initials | None = None
    carried: Literal[True] | None = None
    counted: Amount | None = None
    pressure_cmh2o: PressureCmh2o | None = None
    end_pressure_cmh2o: PressureCmh2o | None = None
    leak_ml_min: Amount | None = None
    reason: Words | None = None
    stops: bool = False
    absorbent_due: bool = False

    @property
    def reading(self) -> Reads | None:
        """Of what gauge or scale the value is a reading, in the unit in which that is kept."""
        if self.value is None:
            return None
        read = self.reads or _READ_BY_KEY.get(self.item)
        return read if read and self.unit == READ_IN[read] else None

    @property
    def tested(self) -> Tests | None:
        """What was tested, whatever the outcome."""
        return self.tests or _TESTED_BY_KEY.get(self.item)

    @model_validator(mode="after")
    def _state_follows_from_value(self) -> Self:
        """A measured item is judged by its number; nobody types the result."""
        if self.state == "not done" and not self.reason:
            raise fields_disagree(f"item {shown(self.item)} is not done, so it needs a reason")
        told = (self.leak_ml_min, self.value, self.held_s)
        measured = next((one for one in told if one is not None), None)
        if self.judgement and measured is not None:
            right = "passed" if self.judgement.allows(Decimal(measured)) else "failed"
            if self.state != right:
                raise fields_disagree(f"item {shown(self.item)} must be {right} by its limit")
        return self


class Check(Body):
    """A checklist walked on one machine. The verdict is computed from the answers.

    ``begun`` is when the first answer was given, where the walk was followed. With ``again_of`` one
    item or more of that check is done again: the new answers stand beside those carried over from
    it, so that the verdict is that of the last answers. ``paper`` marks a check that was done on
    paper: its one answer is the result, and its items are not known.
    """

    kind: ClassVar[str] = "check"
    machine: Tag
    checklist: str
    version: Annotated[int, Field(ge=1)]
    answers: Annotated[tuple[ItemAnswer, ...], Field(min_length=1)]
    begun: Instant | None = None
    again_of: Seq | None = None
    paper: Literal[True] | None = None

    @model_validator(mode="after")
    def _answers_each_item_once(self) -> Self:
        keys = [answer.item for answer in self.answers]
        for key in keys:
            if keys.count(key) > 1:
                raise fields_disagree(f"item {shown(key)} is answered twice")
        return self

    @model_validator(mode="after")
    def _does_something_again(self) -> Self:
        """Nothing is carried over out of nowhere, and something is done anew."""
        carried = [answer.item for answer in self.answers if answer.carried]
        if carried and self.again_of is None:
            item = shown(carried[0])
            raise fields_disagree(f"item {item} is carried over from no check; name it")
        if len(carried) == len(self.answers):
            raise fields_disagree("every item is carried over; do at least one again")
        return self

    @property
    def done_now(self) -> tuple[ItemAnswer, ...]:
        """What was done in this very check, without what is carried over from another."""
        return tuple(answer for answer in self.answers if not answer.carried)

    @property
    def verdict(self) -> Verdict:
        """``passed`` only where every item passed or is not fitted."""
        states = {answer.state for answer in self.answers}
        if "failed" in states:
            return "failed"
        return "incomplete" if "not done" in states else "passed"


class ChecklistLoad(Body):
    """A list that the clinic brings itself, as the TOML text it was read from."""

    kind: ClassVar[str] = "checklist"
    checklist: str
    version: Annotated[int, Field(ge=1)]
    text: Annotated[str, Field(min_length=1, max_length=200_000)]
