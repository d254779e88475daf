"""Entries about the book itself: rules, corrections, notes."""

from typing import Annotated, Any, ClassVar, Self

from pydantic import Field, StringConstraints, model_validator

from logbook.entries.base import Body, Initials, Instant, NotNegative, Seq, Tag, Words
from logbook.entries.explaining import HASH, fields_disagree


class RuleChange(Body):
    """Another value for a limit, for one machine or for the clinic."""

    kind: ClassVar[str] = "rule_change"
    limit: Words
    value: NotNegative
    machine: Tag | None = None
    reason: Words
    source: Words | None = None


class Correction(Body):
    """Withdraws an entry, or says what it should have said.

    ``happened_at`` and ``body`` are the whole new content, never a difference; both are absent
    where the entry is withdrawn. ``by`` are the initials that the entry should have carried, where
    they were wrong; whoever signs the correction stands in its own header. The corrected entry
    keeps its number and stays readable, and the last correction of an entry counts.
    """

    kind: ClassVar[str] = "correction"
    corrects: Seq
    withdrawn: bool
    happened_at: Instant | None = None
    body: dict[str, Any] | None = None
    by: Initials | None = None
    reason: Words

    @model_validator(mode="after")
    def _withdraws_or_replaces(self) -> Self:
        given = {self.body is not None, self.happened_at is not None}
        if given != {not self.withdrawn}:
            raise fields_disagree("a correction either withdraws an entry or gives its new content")
        if self.withdrawn and self.by is not None:
            raise fields_disagree("an entry that is withdrawn needs no other initials")
        return self


class Restore(Body):
    """The ledger was brought back from a backup: a declared gap.

    The checkpoint it was brought back from, and what is known to be lost: how many entries, and
    the last head that was seen, where the lost file could still be read.
    """

    kind: ClassVar[str] = "restore"
    from_entries: Annotated[int, Field(ge=0)]
    from_head: Annotated[str, StringConstraints(pattern=HASH)]
    lost_entries: Annotated[int, Field(ge=0)] | None = None
    lost_head: Annotated[str, StringConstraints(pattern=HASH)] | None = None
    reason: Words


class Note(Body):
    """Free words about a unit or the clinic."""

    kind: ClassVar[str] = "note"
    unit: Tag | None = None
    text: Words
