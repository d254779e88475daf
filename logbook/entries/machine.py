"""Anesthesia machines: added, changed, retired."""

from typing import ClassVar, Literal

from logbook.entries.base import Body, ChargeG, FlowMlMin, Tag, Words

Scavenging = Literal["active", "charcoal", "passive"]


class Machine(Body):
    """A machine under its tag. ``absorbent_g`` is the usual charge of its canister in grams."""

    kind: ClassVar[str] = "machine"
    machine: Tag
    serial: Words | None = None
    location: Words | None = None
    absorbent_g: ChargeG | None = None
    scavenging: Scavenging | None = None
    flowmeter_max_ml_min: FlowMlMin | None = None


class MachineChange(Body):
    """What changed about a machine; a field left out stays as it was."""

    kind: ClassVar[str] = "machine_change"
    machine: Tag
    serial: Words | None = None
    location: Words | None = None
    absorbent_g: ChargeG | None = None
    scavenging: Scavenging | None = None
    flowmeter_max_ml_min: FlowMlMin | None = None
    reason: Words


class MachineRetirement(Body):
    """The machine left the clinic; its record stays."""

    kind: ClassVar[str] = "machine_retirement"
    machine: Tag
    reason: Words
