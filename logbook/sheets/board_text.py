"""The board and the verdict on one machine, as text: the most important first."""

from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.board import Begun, BoardLine, FittedVaporizer, Runs
from logbook.answers.facts import CheckDone, Gauge, OnMachine
from logbook.answers.ready import Ready
from logbook.arithmetic.oxygen import gauge
from logbook.arithmetic.setup import Setup
from logbook.errors import Act
from logbook.sheets.equipment import amount_left
from logbook.sheets.line import DEEPER, NO_MACHINE, Line, Lines, under
from logbook.sheets.reasons import ReasonRow, readiness_text
from logbook.sheets.recorded_text import late_text, marks_text
from logbook.sheets.setup_text import needs_text
from logbook.sheets.sheet import Sheet
from logbook.times import duration_text, local_text
from logbook.units import format_decimal

MARKS = {"stops": "NO", "unknown": "NO RECORD", "remark": "remark", "fine": "recorded"}
HEED = "This tells what was recorded. Look at the machine: pop-off valve open, valves move."


@dataclass(frozen=True, slots=True)
class BoardRow:
    """A machine as it stands, its hours with as many digits as a person reads."""

    machine: str
    location: str | None
    verdict: str
    may_be_used: bool
    reasons: list[ReasonRow]
    check: CheckDone | None
    begun: list[Begun]
    running: Runs | None
    absorbent_h: str | None
    absorbent_limit_h: str | None
    vaporizers: list[FittedVaporizer]
    cylinder: Gauge | None
    cylinders: list[OnMachine]
    oxygen_read_on: date | None

    @classmethod
    def of(cls, line: BoardLine) -> "BoardRow":
        """The row of a line."""
        used, limit = line.absorbent_h, line.absorbent_limit_h
        told = {field.name: getattr(line, field.name) for field in fields(line)}
        reasons = [ReasonRow.of(one) for one in line.reasons]
        told |= {"reasons": reasons, "verdict": readiness_text(told.pop("readiness"), reasons)}
        told["absorbent_h"] = None if used is None else format_decimal(round(used, 2))
        told["absorbent_limit_h"] = None if limit is None else format_decimal(limit)
        return cls(**told)


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """The entries that a group's centre acknowledged last, when, and that as a person reads it."""

    entries: int
    at: datetime
    words: str

    @classmethod
    def of(cls, entries: int, at: datetime, zone: ZoneInfo) -> "Acknowledged":
        """What a receipt says."""
        return cls(entries, at, f"entries 1 to {entries}, acknowledged {local_text(at, zone)}")


@dataclass(frozen=True, slots=True)
class BoardSheet(Sheet):
    """Every machine, the worst first; three lines each while six fit one screen, else one."""

    schema: ClassVar[str] = "board/1"
    as_of: date
    machines: list[BoardRow]
    acknowledged: Acknowledged | None = None

    @classmethod
    def of(
        cls, day: date, lines: list[BoardLine], acknowledged: Acknowledged | None = None
    ) -> "BoardSheet":
        """The sheet of the lines, and up to where a group's centre holds the ledger."""
        return cls(day, [BoardRow.of(line) for line in lines], acknowledged)

    def lines(self) -> Lines:
        """The board as text."""
        if not self.machines:
            return [NO_MACHINE]
        head = Line(f"{self.as_of:%A} {self.as_of}")
        tail = [Line("All reasons of a machine", act=Act.SEE_REASONS)]
        if self.acknowledged:
            tail.append(Line(f"The group's centre holds {self.acknowledged.words}."))
        if len(self.machines) > AT_LENGTH:
            return [head, *map(_row, self.machines), *tail]
        return [head, *(row for line in self.machines for row in _rows(line)), *tail]


AT_LENGTH = 6
"""How many machines are told in three lines each, so that they fit a screen of 24 lines."""


def _row(line: BoardRow) -> Line:
    """A machine in one line: the verdict, what stands against it first, and a case that runs."""
    against = [one.about for one in line.reasons if one.weight != "fine"]
    verdict = line.verdict.partition(":")[0].upper()
    told = [f"{line.machine} {verdict}"]
    if line.running is not None:
        told.append(f"case runs {duration_text(line.running.ran_s)}")
    told += against[:1]
    more = f" (and {len(against) - 1} more)" if len(against) > 1 else ""
    return Line("; ".join(told) + more)


def _rows(line: BoardRow) -> list[Line]:
    place = f" ({line.location})" if line.location else ""
    rows = [Line(f"{line.machine}{place}: {line.verdict.upper()}")]
    open_reasons = [one for one in line.reasons if one.weight != "fine"]
    if open_reasons:
        more = f" (and {len(open_reasons) - 1} more)" if len(open_reasons) > 1 else ""
        rows.append(under(f"{open_reasons[0].sentence}{more}"))
    return [*rows, under("; ".join(amounts(line)))]


def amounts(line: BoardRow) -> list[str]:
    """What a person looks for on the board, a few words for each."""
    parts = [
        f"check {line.check.verdict} by {line.check.by}{late_text(line.check.late_s)}"
        if line.check
        else "NOT CHECKED today"
    ]
    if line.running is not None:
        parts.insert(0, f"case runs {duration_text(line.running.ran_s)}")
    parts += [f"{one.checklist} check begun by {one.by}, not finished" for one in line.begun]
    if line.absorbent_h is not None:
        parts.append(f"absorbent {line.absorbent_h} of {line.absorbent_limit_h} h")
    parts += [f"{unit.vaporizer} {amount_left(unit.left)}" for unit in line.vaporizers]
    seen = [one.gauge for one in line.cylinders if one.gauge]
    if seen:
        gauges = " and ".join(f"{gauge(one.psi)} psi" for one in seen)
        read = f" on {line.oxygen_read_on}" if line.oxygen_read_on else ""
        latest = max(seen, key=lambda one: one.recorded.late_s or 0)
        parts.append(f"oxygen {gauges}{read}{marks_text(latest.recorded)}")
    return parts


@dataclass(frozen=True, slots=True)
class ReadySheet(Sheet):
    """The verdict on a machine, every reason worst first."""

    schema: ClassVar[str] = "ready/1"
    machine: str
    verdict: str
    may_be_used: bool
    reasons: list[ReasonRow]
    needs: str | None

    @classmethod
    def of(cls, answer: Ready, setup: Setup | None = None) -> "ReadySheet":
        """The sheet of an answer, with what the case needs where one was told."""
        reasons = [ReasonRow.of(one) for one in answer.reasons]
        verdict = readiness_text(answer.readiness, reasons)
        needs = needs_text(setup) if setup else None
        return cls(answer.machine, verdict, answer.may_be_used, reasons, needs)

    def lines(self) -> Lines:
        """The verdict as text, and the caution that stands above all records."""
        head = Line(f"{self.machine}: {self.verdict.upper()}", DEEPER)
        reasons = [under(f"{MARKS[one.weight]}: {one.sentence}") for one in self.reasons]
        needs = [under(self.needs)] if self.needs else []
        return [head, *reasons, *needs, Line(HEED)]
