"""Faults, and the evidence that ended them."""

from typing import ClassVar

from logbook.entries.base import Body, Seq, Tag, Words
from logbook.vocabulary import What

STOPPING: frozenset[str] = frozenset({"tipped", "dropped", "overfilled"})
"""Events that can change a vaporizer's output unseen (AAGBI 2012: tilting, overfilling; read)."""


class Fault(Body):
    """A fault or incident on a unit. ``stops`` puts the unit out of service at once."""

    kind: ClassVar[str] = "fault"
    unit: Tag
    what: What
    detail: Words | None = None
    stops: bool = False


class ReturnToService(Body):
    """The unit may be used again; ``evidence_entry`` is a passed check or service on it."""

    kind: ClassVar[str] = "return_to_service"
    unit: Tag
    evidence_entry: Seq
    remark: Words | None = None
