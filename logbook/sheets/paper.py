"""Sheets as pages of HTML that a browser prints: one layout for the screen and for paper."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Literal

from logbook.answers.evidence import Evidence
from logbook.checklists import Checklist
from logbook.errors import Act
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.audit import FindingRow, looked_at_words
from logbook.sheets.due_text import due_lines
from logbook.sheets.evidence import ChangeShown, machines_ran
from logbook.sheets.faults import fault_lines
from logbook.sheets.line import Lines, as_lines
from logbook.sheets.over_time import Course
from logbook.sheets.week import WeekSheet
from logbook.shipped import folder

if TYPE_CHECKING:
    from jinja2 import Environment

Paper = Literal["A4", "letter"]


def week_page(sheet: WeekSheet, clinic: str, paper: Paper) -> str:
    """The week's list with boxes for values and initials, 24 lines on a page."""
    title = f"{clinic}: {sheet.title}"
    return _page("week.html", title, paper, sheet.checkpoint, sheet=sheet)


def lines_page(
    title: str, lines: Lines, mark: Checkpoint, paper: Paper, courses: Sequence[Course] = ()
) -> str:
    """Any sheet, line by line as on a terminal, behind pictures of what was measured."""
    # Paper leads nowhere.
    shown = [one for one in as_lines(lines) if one.act is not Act.SEE_REASONS]
    return _page("lines.html", title, paper, mark, lines=shown, courses=courses)


def list_page(checklist: Checklist, clinic: str, mark: Checkpoint, paper: Paper) -> str:
    """A checklist to be filled in by hand where there is no screen."""
    title = f"{clinic}: {checklist.title} (version {checklist.version})"
    return _page("list.html", title, paper, mark, items=checklist.items)


def evidence_page(
    told: Evidence, clinic: str, mark: Checkpoint, paper: Paper
) -> Iterator[str]:  # fmt: skip
    """What was found in a span of days, what was missed first, and how things stood at its end;
    piece by piece, because a year has tens of thousands of lines."""
    moment = told.due.moment
    counts = {one.finding: one.count for one in told.audit.totals}
    found = groupby(told.audit.findings, attrgetter("finding"))
    stood = fault_lines(told.due.stopped, told.due.noted, moment.zone)
    return _pieces(
        "evidence.html", f"{clinic}: evidence", paper, mark, told=told,
        looked_at=looked_at_words(told.audit.looked_at),
        findings=(
            (kind, counts[kind], (FindingRow.of(one, moment.zone) for one in group))
            for kind, group in found
        ),
        ran=machines_ran(told, told.audit.first),
        changes=[ChangeShown.of(*one, moment.zone) for one in told.changes],
        stood=[*stood, *due_lines(told.due.items, moment.day, show_all=False)],
    )  # fmt: skip


QUIET_MODULES = 4
"""The empty edge of a code; source: ISO/IEC 18004, from memory."""
SIDE_MM = 30
"""The side of the code on a label: read from an arm's length; our own choice."""


@dataclass(frozen=True, slots=True)
class Label:
    """A label to cut out and stick on a unit: what its code says, and what stands beside it."""

    tag: str
    says: str
    lines: list[str]

    @property
    def code(self) -> str:
        """The code, an image that stands in the page itself."""
        return _code(self.says, QUIET_MODULES)


def label_page(labels: Sequence[Label], paper: Paper) -> str:
    """Labels on a sheet, to be printed at 100 %."""
    page = _templates().get_template("label.html")
    title = "Labels: " + ", ".join(one.tag for one in labels)
    return page.render(title=title, paper=paper, labels=labels, side_mm=SIDE_MM)


def _page(template: str, title: str, paper: Paper, mark: Checkpoint, **more: Any) -> str:
    return "".join(_pieces(template, title, paper, mark, **more))


def _pieces(
    template: str, title: str, paper: Paper, mark: Checkpoint, **more: Any
) -> Iterator[str]:  # fmt: skip
    foot = f"{mark.entries} entries, head {mark.head[:16]}"
    page = _templates().get_template(template)
    return page.generate(
        title=title, paper=paper, foot=foot, checkpoint=mark.line(), code=code_of(mark), **more
    )


def code_of(mark: Checkpoint) -> str:
    """A checkpoint as a QR code, an image that stands in the page itself."""
    return _code(mark.short(), 2)  # White paper is around it.


def _code(says: str, quiet_modules: int) -> str:
    import segno

    code: str = segno.make(says, error="m", micro=False).svg_data_uri(border=quiet_modules)
    return code


@cache
def _templates() -> "Environment":
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(folder("sheets/paper")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
