"""A history: each entry as it was written, and what became of it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.history import History, HistoryLine
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.recorded_text import recorded_marks
from logbook.sheets.sentences import sentence
from logbook.sheets.sheet import Sheet, TextAlone


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

    @classmethod
    def of(
        cls, unit: str, answer: History, zone: ZoneInfo, checkpoint: Checkpoint
    ) -> "HistorySheet":
        """The sheet of what was recorded about a unit."""
        entries = [HistoryEntry.of(line, zone) for line in answer.lines]
        return cls(unit, entries, answer.earlier, checkpoint, told=answer.lines)

    def lines(self) -> Lines:
        """The history as text."""
        if not self.entries:
            return [Line(f"Nothing is recorded about {self.unit} in that time.")]
        pairs = zip(self.entries, self.told, strict=True)
        return [*self._left_out(), *(row for entry, line in pairs for row in _rows(entry, line))]

    def _left_out(self) -> list[Line]:
        if not self.earlier:
            return []
        entries = (
            "1 earlier entry is" if self.earlier == 1 else f"{self.earlier} earlier entries are"
        )
        return [Line(f"{entries} not shown; --all shows every one.")]


def _rows(entry: HistoryEntry, line: HistoryLine) -> list[Line]:
    marks = "".join(f" [{mark}]" for mark in recorded_marks(line.recorded))
    written = f"{entry.entry} {entry.sentence}{marks}"
    if entry.corrected_by is None:
        return [Line(written)]
    mark = under(f"[{entry.state} by entry {entry.corrected_by}: {entry.reason}]")
    now = [under(f"now: {entry.now_says}")] if entry.now_says else []
    return [Line(written, struck=True), mark, *now]
