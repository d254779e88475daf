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

    @classmethod
    def reported(
        cls, unit: str, what: str = "", detail: str | None = None, *, take_out: bool
    ) -> "Fault":
        """A fault as a person tells it: some take the unit out of service at once, any may.

        Raises:
            InputError: a field does not fit.
        """
        return cls.of(unit=unit, what=what, detail=detail, stops=take_out or what in STOPPING)


class ReturnToService(Body):
    """The unit may be used again; ``evidence_entry`` is a passed check or service on it."""

    kind: ClassVar[str] = "return_to_service"
    unit: Tag
    evidence_entry: Seq
    remark: Words | None = None


class FaultClose(Body):
    """A fault that left its unit in service has ended; ``fault_entry`` is that fault's entry."""

    kind: ClassVar[str] = "fault_close"
    unit: Tag
    fault_entry: Seq
    reason: Words
