"""Pre-use checks: what was seen, and the limits that judged it."""

from decimal import Decimal
from typing import Annotated, ClassVar, Self

from pydantic import Field, model_validator

from logbook.arithmetic.allowed import Allowed
from logbook.checklists.model import READ_IN, Reads, State, Tests, Verdict
from logbook.entries.base import Amount, Body, Part, Tag, Words
from logbook.entries.explaining import fields_disagree
from logbook.vocabulary import LONGEST_HOLD_S

_READ_BY_KEY: dict[str, Reads] = {
    "cylinder-pressure": "cylinder",
    "pipeline-pressure": "pipeline",
    "charcoal-weight": "charcoal",
}
_TESTED_BY_KEY: dict[str, Tests] = {"breathing-system-leak": "leak"}
"""What items read and test that do not say it themselves, as none did in 0.1.0."""


class Judgement(Part):
    """The rule that judged a value: at least ``low`` and at most ``high``, in ``unit``."""

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
    scale the value is a reading, and ``tests`` what the item tests; entries of 0.1.0 lack both.
    """

    item: str
    state: State
    value: Amount | None = None
    unit: str | None = None
    held_s: Annotated[int, Field(ge=0, le=LONGEST_HOLD_S)] | None = None
    choice: str | None = None
    judgement: Judgement | None = None
    reads: Reads | None = None
    tests: Tests | None = None
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
            raise fields_disagree(f"item {self.item} is not done, so it needs a reason")
        measured = self.value if self.value is not None else self.held_s
        if self.judgement and measured is not None:
            right = "passed" if self.judgement.allows(Decimal(measured)) else "failed"
            if self.state != right:
                raise fields_disagree(f"item {self.item} must be {right} by its limit")
        return self


class Check(Body):
    """A checklist walked on one machine. The verdict is computed from the answers."""

    kind: ClassVar[str] = "check"
    machine: Tag
    checklist: str
    version: Annotated[int, Field(ge=1)]
    answers: Annotated[tuple[ItemAnswer, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _answers_each_item_once(self) -> Self:
        keys = [answer.item for answer in self.answers]
        for key in keys:
            if keys.count(key) > 1:
                raise fields_disagree(f"item {key} is answered twice")
        return self

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
