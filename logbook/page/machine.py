"""One machine: the verdict with all its reasons, what can be done there, and its last entries."""

from typing import NamedTuple

from flask import Blueprint, render_template

from logbook.answers.moment import moment_at
from logbook.answers.over_time import over_time
from logbook.answers.ready import ready
from logbook.office.office import Opened
from logbook.page import acts
from logbook.page.history import Row, last_entries
from logbook.page.world import ask
from logbook.projections.lookup import running_case
from logbook.sheets.board_text import ReadySheet
from logbook.sheets.over_time import Course, courses
from logbook.times import duration_text, local_text

routes = Blueprint("machine", __name__)
LAST = 8
"""How many entries a machine's page shows."""


class Seen(NamedTuple):
    """A machine as its page shows it; ``running`` is how long its case has run."""

    at: str
    ready: ReadySheet
    running: str | None
    rows: list[Row]
    courses: list[Course]


@routes.get("/machine/<tag>")
def show(tag: str) -> str:
    """May it be used, why not, and what was recorded last."""
    seen = ask(("machine", tag), lambda opened: _seen(opened, tag))
    return render_template("machine.html", seen=seen, tag=tag, acts=acts.links("machine", tag))


def _seen(opened: Opened, tag: str) -> Seen:
    moment = moment_at(opened.now, opened.zone)
    verdict = ready(opened.connection, moment, tag)
    case = running_case(opened.connection, tag, moment.at_s)
    return Seen(
        local_text(opened.now, opened.zone),
        ReadySheet.of(verdict),
        duration_text(moment.at_s - case.began_s) if case else None,
        last_entries(opened, tag, LAST).rows,
        courses(over_time(opened.connection, moment, tag), opened.zone),
    )
