"""The cases, as text."""

from dataclasses import dataclass
from datetime import date
from typing import ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.cases import CaseLine
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.recorded_text import recorded_marks
from logbook.sheets.sentences import setting, weight
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import duration_text, local_text


@dataclass(frozen=True, slots=True)
class CaseListSheet(Sheet):
    """The cases since a day: one line for each, and a line beneath for each flag."""

    schema: ClassVar[str] = "case-list/1"
    cases: list[CaseLine]
    checkpoint: Checkpoint
    zone: TextAlone[ZoneInfo]
    since: TextAlone[date]

    def lines(self) -> Lines:
        """The cases as text."""
        if not self.cases:
            return [Line(f"No case is recorded since {self.since}.")]
        rows = []
        for one in self.cases:
            rows.append(Line(_case(one, self.zone)))
            rows += [under(f"flagged: {flag}") for flag in one.flags]
        return rows


def _case(line: CaseLine, zone: ZoneInfo) -> str:
    ran = duration_text(line.ran_s) if line.ran_s is not None else "still running"
    parts = [
        f"{line.entry} {line.machine} {local_text(line.began_at, zone)}",
        ran,
        line.circuit if line.circuit != "unknown" else "circuit unknown",
        weight(line.weight_g),
        line.species,
        "/".join(line.vaporizers) or None,
        *(setting(part) for part in line.settings),
        line.reference,
        f"by {line.by}",
        f"corrected by entry {line.corrected_by}" if line.corrected_by else None,
    ]
    marks = "".join(f" [{mark}]" for mark in recorded_marks(line.recorded))
    return ", ".join(part for part in parts if part) + marks
