"""What was recorded about a unit, the newest last, with what was taken back struck through."""

from typing import NamedTuple

from flask import Blueprint, render_template, request

from logbook.answers.equipment import known_unit
from logbook.answers.history import LAST_SHOWN, history
from logbook.answers.moment import moment_at
from logbook.office.office import Opened
from logbook.page.world import ask, heed, world
from logbook.sheets.history_text import HistoryEntry, line_marks

routes = Blueprint("history", __name__)


class Row(NamedTuple):
    """An entry, and what is remarkable about when it was recorded."""

    entry: HistoryEntry
    marks: list[str]


class Seen(NamedTuple):
    """The last entries about a unit; ``earlier`` ones are not shown."""

    rows: list[Row]
    earlier: int


@routes.get("/history/<unit>")
def show(unit: str) -> str:
    """The last entries, or all of them."""
    if "all" in request.args:
        # Read from a copy and not kept: a long history would hold up everybody who saves.
        with world().office.reading(heed, long=True) as opened:
            known_unit(opened.connection, unit)
            seen = last_entries(opened, unit, None)
    else:
        seen = ask(("history", unit), lambda opened: _seen(opened, unit))
    return render_template("history.html", unit=unit, seen=seen)


def _seen(opened: Opened, unit: str) -> Seen:
    known_unit(opened.connection, unit)
    return last_entries(opened, unit, LAST_SHOWN)


def last_entries(opened: Opened, unit: str, most: int | None) -> Seen:
    """The last entries about a unit, at most so many."""
    at_s = moment_at(opened.now, opened.zone).at_s
    found = history(opened.connection, unit, 0, at_s, most)
    rows = [Row(HistoryEntry.of(line, opened.zone), line_marks(line)) for line in found.lines]
    return Seen(rows, found.earlier)
