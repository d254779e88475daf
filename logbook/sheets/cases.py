"""The cases, as text."""

from dataclasses import dataclass, fields
from datetime import date
from typing import ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.case_flags import accuses
from logbook.answers.cases import CaseFacts, CaseLine
from logbook.answers.recorded import Recorded
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.flags import flag_line
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.recorded_text import recorded_marks
from logbook.sheets.sentences import setting, weight
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import duration_text, local_text


@dataclass(frozen=True, slots=True)
class CaseRow(CaseFacts):
    """A case, with what stood against its machine in words; a remark accuses nobody."""

    recorded: Recorded
    flags: list[str]
    remarks: list[str]

    @classmethod
    def of(cls, line: CaseLine, zone: ZoneInfo) -> "CaseRow":
        """The row of a case; its times are the clinic's."""
        told = {field.name: getattr(line, field.name) for field in fields(CaseFacts)}
        flags = [flag_line(one, zone) for one in line.flags if accuses(one)]
        remarks = [flag_line(one, zone) for one in line.flags if not accuses(one)]
        return cls(**told, recorded=line.recorded, flags=flags, remarks=remarks)


@dataclass(frozen=True, slots=True)
class CaseListSheet(Sheet):
    """The cases since a day: one line for each, and a line beneath for each flag."""

    schema: ClassVar[str] = "case-list/1"
    cases: list[CaseRow]
    checkpoint: Checkpoint
    zone: TextAlone[ZoneInfo]
    since: TextAlone[date]

    @classmethod
    def of(
        cls, cases: list[CaseLine], checkpoint: Checkpoint, zone: ZoneInfo, since: date
    ) -> "CaseListSheet":
        """The sheet of the cases since a day."""
        return cls([CaseRow.of(one, zone) for one in cases], checkpoint, zone, since)

    def lines(self) -> Lines:
        """The cases as text."""
        if not self.cases:
            return [Line(f"No case is recorded since {self.since}.")]
        rows = []
        for one in self.cases:
            rows.append(Line(_case(one, self.zone)))
            rows += [under(f"flagged: {flag}") for flag in one.flags]
            rows += [under(f"remark: {remark}") for remark in one.remarks]
        return rows


def _case(line: CaseRow, zone: ZoneInfo) -> str:
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
