"""Entries about the book itself: rules, corrections, notes."""

from typing import Any, ClassVar, Self

from pydantic import model_validator

from logbook.entries.base import Body, Instant, NotNegative, Seq, Tag, Words


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
    where the entry is withdrawn. The corrected entry keeps its number and stays readable, and
    the last correction of an entry counts.
    """

    kind: ClassVar[str] = "correction"
    corrects: Seq
    withdrawn: bool
    happened_at: Instant | None = None
    body: dict[str, Any] | None = None
    reason: Words

    @model_validator(mode="after")
    def _withdraws_or_replaces(self) -> Self:
        if self.withdrawn == (self.body is not None and self.happened_at is not None):
            raise ValueError("a correction either withdraws an entry or gives its new content")
        return self


class Note(Body):
    """Free words about a unit or the clinic."""

    kind: ClassVar[str] = "note"
    unit: Tag | None = None
    text: Words
