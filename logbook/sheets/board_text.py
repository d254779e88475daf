"""The board and the verdict on one machine, as text: the most important first."""

from dataclasses import dataclass, fields
from datetime import date
from typing import ClassVar

from logbook.answers.board import Begun, BoardLine, VaporizerLine
from logbook.answers.facts import CheckDone, Gauge
from logbook.answers.ready import Ready, Reason
from logbook.sheets.equipment import NO_MACHINE, amount_left
from logbook.sheets.line import DEEPER, Line, Lines, under
from logbook.sheets.sheet import Sheet
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
    reasons: list[Reason]
    check: CheckDone | None
    begun: list[Begun]
    absorbent_h: str | None
    absorbent_limit_h: str | None
    vaporizers: list[VaporizerLine]
    cylinder: Gauge | None

    @classmethod
    def of(cls, line: BoardLine) -> "BoardRow":
        """The row of a line."""
        used, limit = line.absorbent_h, line.absorbent_limit_h
        told = {field.name: getattr(line, field.name) for field in fields(line)}
        told["absorbent_h"] = None if used is None else format_decimal(round(used, 2))
        told["absorbent_limit_h"] = None if limit is None else format_decimal(limit)
        return cls(**told)


@dataclass(frozen=True, slots=True)
class BoardSheet(Sheet):
    """Every machine; three lines each, so that six fit one screen."""

    schema: ClassVar[str] = "board/1"
    as_of: date
    machines: list[BoardRow]

    @classmethod
    def of(cls, day: date, lines: list[BoardLine]) -> "BoardSheet":
        """The sheet of the lines."""
        return cls(day, [BoardRow.of(line) for line in lines])

    def lines(self) -> Lines:
        """The board as text."""
        if not self.machines:
            return [Line(NO_MACHINE)]
        head = Line(f"{self.as_of:%A} {self.as_of}")
        tail = Line("All reasons of a machine: logbook ready MACHINE")
        return [head, *(row for line in self.machines for row in _rows(line)), tail]


def _rows(line: BoardRow) -> list[Line]:
    place = f" ({line.location})" if line.location else ""
    rows = [Line(f"{line.machine}{place}: {line.verdict.upper()}")]
    open_reasons = [one for one in line.reasons if one.weight != "fine"]
    if open_reasons:
        more = f" (+{len(open_reasons) - 1} more)" if len(open_reasons) > 1 else ""
        rows.append(under(f"{open_reasons[0].sentence}{more}"))
    return [*rows, under(_amounts(line))]


def _amounts(line: BoardRow) -> str:
    parts = [
        f"check {line.check.verdict} by {line.check.by}" if line.check else "NOT CHECKED today"
    ]
    parts += [f"{one.checklist} check begun by {one.by}, not finished" for one in line.begun]
    if line.absorbent_h is not None:
        parts.append(f"absorbent {line.absorbent_h} of {line.absorbent_limit_h} h")
    parts += [f"{unit.vaporizer} {amount_left(unit.left)}" for unit in line.vaporizers]
    if line.cylinder is not None:
        parts.append(f"oxygen {format_decimal(line.cylinder.psi)} psi")
    return "; ".join(parts)


@dataclass(frozen=True, slots=True)
class ReadySheet(Sheet):
    """The verdict on a machine, every reason worst first."""

    schema: ClassVar[str] = "ready/1"
    machine: str
    verdict: str
    may_be_used: bool
    reasons: list[Reason]

    @classmethod
    def of(cls, answer: Ready) -> "ReadySheet":
        """The sheet of an answer."""
        return cls(answer.machine, answer.verdict, answer.may_be_used, answer.reasons)

    def lines(self) -> Lines:
        """The verdict as text, and the caution that stands above all records."""
        head = Line(f"{self.machine}: {self.verdict.upper()}", DEEPER)
        reasons = [under(f"{MARKS[one.weight]}: {one.sentence}") for one in self.reasons]
        return [head, *reasons, Line(HEED)]
