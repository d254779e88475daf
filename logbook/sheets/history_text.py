"""A history, as text and as plain values."""

from typing import Any
from zoneinfo import ZoneInfo

from logbook.answers.history import HistoryLine
from logbook.sheets.layout import struck, wrapped
from logbook.sheets.recorded_text import recorded_marks
from logbook.sheets.sentences import sentence


def history_text(lines: list[HistoryLine], zone: ZoneInfo, unit: str) -> str:
    """One line for each entry; those taken back are struck through and say by which entry."""
    if not lines:
        return wrapped(f"Nothing is recorded about {unit} in that time.")
    return "\n".join(_line(line, zone) for line in lines)


def _line(line: HistoryLine, zone: ZoneInfo) -> str:
    marks = "".join(f" [{mark}]" for mark in recorded_marks(line.recorded))
    told = f"{line.entry.seq} {sentence(line.entry, zone)}{marks}"
    if line.corrected_by is None:
        return wrapped(told)
    rows = wrapped(told).split("\n")
    mark = f"  [{line.state} by entry {line.corrected_by}: {line.reason}]"
    now = [wrapped(f"  now: {sentence(line.now_says, zone)}", "      ")] if line.now_says else []
    return "\n".join([*(struck(row) for row in rows), wrapped(mark, "      "), *now])


def history_json(lines: list[HistoryLine], zone: ZoneInfo) -> list[dict[str, Any]]:
    """Each entry with its body, its sentence, and what became of it."""
    return [
        {
            "entry": line.entry.seq,
            "kind": line.entry.kind,
            "happened_at": line.entry.happened_at,
            "recorded_at": line.entry.recorded_at,
            "by": line.entry.by,
            "sentence": sentence(line.entry, zone),
            "body": line.entry.body.model_dump(mode="json", exclude_none=True),
            "recorded_late_s": line.recorded.late_s,
            "recorded_with_clock_back": line.recorded.clock_back,
            "state": line.state,
            "corrected_by": line.corrected_by,
            "reason": line.reason,
            "now_says": sentence(line.now_says, zone) if line.now_says else None,
        }
        for line in lines
    ]
