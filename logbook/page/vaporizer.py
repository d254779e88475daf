"""One vaporizer: what is left in it, where it stands and stood, its outputs, its last entries."""

from typing import NamedTuple

from flask import Blueprint, render_template

from logbook.answers.equipment import only, vaporizer_lines
from logbook.answers.moment import moment_at
from logbook.answers.outputs import output_history
from logbook.answers.over_time import over_time
from logbook.office.office import Opened
from logbook.page.acts import links
from logbook.page.history import Row, last_entries
from logbook.page.machine import LAST
from logbook.page.world import ask
from logbook.sheets.equipment import VaporizerSheet
from logbook.sheets.line import Lines
from logbook.sheets.over_time import Course, courses
from logbook.times import local_text

routes = Blueprint("vaporizer", __name__)


class Seen(NamedTuple):
    """A vaporizer as its page shows it; ``machine`` is where it stands."""

    at: str
    machine: str | None
    facts: Lines
    rows: list[Row]
    courses: list[Course]


@routes.get("/vaporizer/<tag>")
def show(tag: str) -> str:
    """Its level, dates, place and drift."""
    seen = ask(("vaporizer", tag), lambda opened: _seen(opened, tag))
    return render_template("vaporizer.html", tag=tag, seen=seen, acts=links("vaporizer", tag))


def _seen(opened: Opened, tag: str) -> Seen:
    moment = moment_at(opened.now, opened.zone)
    line = only(vaporizer_lines(opened.connection, moment), "vaporizer", tag)
    outputs = output_history(opened.connection, moment, tag)
    told = over_time(opened.connection, moment, tag)
    return Seen(
        local_text(opened.now, opened.zone),
        line.machine,
        VaporizerSheet(line, outputs, opened.zone).lines(),
        last_entries(opened, tag, LAST).rows,
        courses(told, opened.zone),
    )
