"""The cases, as text."""

from datetime import date
from zoneinfo import ZoneInfo

from logbook.answers.cases import CaseLine
from logbook.sheets.layout import wrapped
from logbook.sheets.recorded_text import recorded_marks
from logbook.sheets.sentences import setting, weight
from logbook.times import duration_text, local_text


def cases_text(lines: list[CaseLine], zone: ZoneInfo, since: date) -> str:
    """One line for each case, and a line beneath for each flag."""
    if not lines:
        return wrapped(f"No case is recorded since {since}.")
    rows = []
    for line in lines:
        rows.append(wrapped(_case(line, zone)))
        rows += [wrapped(f"  flagged: {flag}", "      ") for flag in line.flags]
    return "\n".join(rows)


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
