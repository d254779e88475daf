"""Anesthesia machines: added, changed, retired."""

from typing import Annotated, ClassVar

from pydantic import Field

from logbook.entries.base import (
    Body,
    ChargeG,
    ComplianceMlCmh2o,
    CylinderOf,
    FlowMlMin,
    PressureCmh2o,
    Tag,
    Words,
)
from logbook.vocabulary import MOST_PLACES, AbsorbentKind, CircuitWord, LeakTestFirst, Scavenging


class _MachineBody(Body):
    """What is told of a machine, as ``Profile`` explains it; ``absorbent_g`` is the usual charge
    of its canister in grams."""

    machine: Tag
    serial: Words | None = None
    location: Words | None = None
    pipeline: bool | None = None
    cylinders: tuple[CylinderOf, ...] | None = None
    oxygen_flush: bool | None = None
    second_gas: bool | None = None
    oxygen_alarm: bool | None = None
    oxygen_monitor: bool | None = None
    flowmeter_min_ml_min: FlowMlMin | None = None
    flowmeter_max_ml_min: FlowMlMin | None = None
    powered: bool | None = None
    ventilator: bool | None = None
    suction: bool | None = None
    vaporizer_places: Annotated[int, Field(ge=0, le=MOST_PLACES)] | None = None
    interlock: bool | None = None
    suction_bulb: bool | None = None
    circuits: tuple[CircuitWord, ...] | None = None
    coaxial: bool | None = None
    absorbent_kind: AbsorbentKind | None = None
    absorbent_g: ChargeG | None = None
    hours_label: bool | None = None
    relief_valve: bool | None = None
    relief_valve_cmh2o: PressureCmh2o | None = None
    leak_test_first: LeakTestFirst | None = None
    compliance_ml_cmh2o: ComplianceMlCmh2o | None = None
    scavenging: Scavenging | None = None


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
