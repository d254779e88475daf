"""What keeps units from use, and the faults that stand open, as text."""

from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.facts import OpenFault
from logbook.answers.service_state import Noted, Stopped
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.line import Line, Lines
from logbook.sheets.recorded_text import marks_text
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import local_text
from logbook.value import Value


def fault_text(fault: OpenFault, zone: tzinfo | None) -> str:
    """What keeps the unit from use, since when, and where it is written."""
    detail = f", {fault.detail}" if fault.detail else ""
    since = local_text(fault.at, zone)
    return f"{fault.unit} out of service since {since}: {fault.what}{detail} {_entry(fault)}"


def noted_text(fault: OpenFault, zone: tzinfo | None) -> str:
    """A fault that leaves its unit in service, since when, and where it is written."""
    detail = f", {fault.detail}" if fault.detail else ""
    since = local_text(fault.at, zone)
    return f"{fault.unit} {fault.what}{detail}, since {since} {_entry(fault)}"


def _entry(fault: OpenFault) -> str:
    return f"(entry {fault.entry}{marks_text(fault.recorded)})"


class StoppedRow(Value):
    """What keeps a unit from use, what brings it back, and the entries that can serve as
    evidence already."""

    machine: str | None
    unit: str
    since: datetime
    why: str
    detail: str | None
    entry: int
    back: str
    evidence: list[int]
    recorded_late_s: int | None

    @classmethod
    def of(cls, one: Stopped) -> "StoppedRow":
        """The row of what keeps a unit from use."""
        fault = one.fault
        told = (fault.unit, fault.at, fault.what, fault.detail, fault.entry)
        return cls(one.machine, *told, one.back, one.evidence, fault.recorded.late_s)


class NotedRow(Value):
    """An open fault that leaves its unit in service."""

    machine: str | None
    unit: str
    since: datetime
    what: str
    detail: str | None
    entry: int
    recorded_late_s: int | None

    @classmethod
    def of(cls, one: Noted) -> "NotedRow":
        """The row of a fault."""
        fault = one.fault
        told = (fault.unit, fault.at, fault.what, fault.detail, fault.entry)
        return cls(one.machine, *told, fault.recorded.late_s)


def stopped_line(one: Stopped, zone: ZoneInfo) -> Line:
    """What keeps a unit from use, since when, and what brings it back."""
    fault = one.fault
    detail = f", {fault.detail}" if fault.detail else ""
    place = "" if one.machine in (None, fault.unit) else f" on {one.machine}"
    back = f"comes back on {one.back}"
    if one.evidence:
        back = f"entry {one.evidence[0]} can serve as evidence of its return"
    since = local_text(fault.at, zone)
    told = f"{fault.unit}{place} since {since}, {fault.what}{detail} {_entry(fault)}"
    return Line(f"OUT OF SERVICE: {told}; {back}")


def noted_line(one: Noted, zone: ZoneInfo) -> Line:
    """A fault that leaves its unit in service."""
    return Line(f"OPEN FAULT: {noted_text(one.fault, zone)}")


def fault_lines(stopped: list[Stopped], noted: list[Noted], zone: ZoneInfo) -> list[Line]:
    """All of them, what keeps a unit from use first."""
    lines = [stopped_line(one, zone) for one in stopped]
    return lines + [noted_line(one, zone) for one in noted]


@dataclass(frozen=True, slots=True)
class FaultListSheet(Sheet):
    """What keeps units from use, and the other open faults."""

    schema: ClassVar[str] = "fault-list/1"
    as_of: date
    out_of_service: list[StoppedRow]
    faults: list[NotedRow]
    checkpoint: Checkpoint
    told: TextAlone[list[Line]]

    @classmethod
    def of(
        cls, day: date, stopped: list[Stopped], noted: list[Noted], checkpoint: Checkpoint,
        zone: ZoneInfo,
    ) -> "FaultListSheet":  # fmt: skip
        """The sheet of the faults."""
        rows = [StoppedRow.of(one) for one in stopped]
        faults = [NotedRow.of(one) for one in noted]
        return cls(day, rows, faults, checkpoint, fault_lines(stopped, noted, zone))

    def lines(self) -> Lines:
        """The faults as text."""
        return self.told or [Line("No fault is open, and nothing is out of service.")]
