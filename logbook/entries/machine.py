"""Anesthesia machines: added, changed, retired."""

from typing import ClassVar

from logbook.entries.base import Body, ChargeG, FlowMlMin, Tag, Words
from logbook.vocabulary import Scavenging


class _MachineBody(Body):
    """What is told of a machine; ``absorbent_g`` is the usual charge of its canister in grams."""

    machine: Tag
    serial: Words | None = None
    location: Words | None = None
    absorbent_g: ChargeG | None = None
    scavenging: Scavenging | None = None
    flowmeter_max_ml_min: FlowMlMin | None = None


class Machine(_MachineBody):
    """A machine under its tag."""

    kind: ClassVar[str] = "machine"


class MachineChange(_MachineBody):
    """What changed about a machine; a field left out stays as it was."""

    kind: ClassVar[str] = "machine_change"
    reason: Words


class MachineRetirement(Body):
    """The machine left the clinic; its record stays."""

    kind: ClassVar[str] = "machine_retirement"
    machine: Tag
    reason: Words
