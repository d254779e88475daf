"""A history: each entry as it was written, and what became of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.history import History, HistoryLine
from logbook.errors import Act
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.over_time import Course
from logbook.sheets.recorded_text import recorded_marks
from logbook.sheets.sentences import sentence
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import hours_text


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """An entry with its body, its sentence, and what became of it."""

    entry: int
    kind: str
    happened_at: datetime
    recorded_at: datetime
    by: str
    sentence: str
    body: dict[str, Any]
    recorded_late_s: int | None
    recorded_with_clock_back: bool
    state: str
    corrected_by: int | None
    reason: str | None
    now_says: str | None
    ran_s: int | None
    days: int | None

    @classmethod
    def of(cls, line: HistoryLine, zone: ZoneInfo) -> "HistoryEntry":
        """The entry of a line, its sentences in the clinic's wall time."""
        one = line.entry
        return cls(
            entry=one.seq,
            kind=one.kind,
            happened_at=one.happened_at,
            recorded_at=one.recorded_at,
            by=one.by,
            sentence=sentence(one, zone),
            body=one.body.model_dump(mode="json", exclude_none=True),
            recorded_late_s=line.recorded.late_s,
            recorded_with_clock_back=line.recorded.clock_back,
            state=line.state,
            corrected_by=line.corrected_by,
            reason=line.reason,
            now_says=sentence(line.now_says, zone) if line.now_says else None,
            ran_s=line.ran.ran_s if line.ran else None,
            days=line.ran.days if line.ran else None,
        )


@dataclass(frozen=True, slots=True)
class HistorySheet(Sheet):
    """One line for each entry; those taken back are struck through and say by which entry."""

    schema: ClassVar[str] = "history/1"
    unit: str
    entries: list[HistoryEntry]
    earlier: int
    checkpoint: Checkpoint
    told: TextAlone[list[HistoryLine]]
    nothing: TextAlone[str]
    courses: TextAlone[Sequence[Course]] = ()

    @classmethod
    def of(
        cls, unit: str, answer: History, zone: ZoneInfo, checkpoint: Checkpoint
    ) -> "HistorySheet":
        """The sheet of what was recorded about a unit."""
        entries = [HistoryEntry.of(line, zone) for line in answer.lines]
        nothing = f"Nothing is recorded about {unit} in that time."
        return cls(unit, entries, answer.earlier, checkpoint, told=answer.lines, nothing=nothing)

    @classmethod
    def of_corrections(
        cls, units: str, answer: History, zone: ZoneInfo, checkpoint: Checkpoint
    ) -> "HistorySheet":
        """The sheet of what was corrected, of one unit or of all."""
        sheet = cls.of(units, answer, zone, checkpoint)
        return replace(sheet, nothing="Nothing was corrected in that time.")

    def lines(self) -> Lines:
        """The history as text."""
        if not self.entries:
            return [Line(self.nothing)]
        measured = [course.line() for course in self.courses]
        return [*self._left_out(), *self.entry_lines(), *measured]

    def entry_lines(self) -> list[Line]:
        """The entries alone, and what became of each."""
        pairs = zip(self.entries, self.told, strict=True)
        return [row for entry, line in pairs for row in _rows(entry, line)]

    def _left_out(self) -> list[Line]:
        if not self.earlier:
            return []
        entries = (
            "1 earlier entry is" if self.earlier == 1 else f"{self.earlier} earlier entries are"
        )
        return [Line(f"{entries} not shown", act=Act.SEE_ALL)]


def line_marks(line: HistoryLine) -> list[str]:
    """What stands behind an entry: what had run by then, and how it was recorded."""
    ran = []
    if line.ran is not None and line.ran.days is not None:
        days = "1 day" if line.ran.days == 1 else f"{line.ran.days} days"
        ran = [f"the old charge had {hours_text(line.ran.ran_s)} h of use in {days}"]
    elif line.ran is not None:
        ran = [f"had run {hours_text(line.ran.ran_s)} h in all"]
    return [*ran, *recorded_marks(line.recorded)]


def _rows(entry: HistoryEntry, line: HistoryLine) -> list[Line]:
    marks = "".join(f" [{mark}]" for mark in line_marks(line))
    written = f"{entry.entry} {entry.sentence}{marks}"
    if entry.corrected_by is None:
        return [Line(written)]
    mark = under(f"[{entry.state} by entry {entry.corrected_by}: {entry.reason}]")
    now = [under(f"now: {entry.now_says}")] if entry.now_says else []
    return [Line(written, struck=True), mark, *now]
