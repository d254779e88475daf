"""What is out of service, which faults are open, what is due, and the list for next week."""

from collections.abc import Callable
from typing import NamedTuple

from flask import Blueprint, render_template

from logbook.answers.due import due_and_open
from logbook.answers.moment import moment_at
from logbook.answers.ordering import read_with_orders
from logbook.office.office import Opened
from logbook.page.world import ask, ask_in_two
from logbook.proof.checkpoint import checkpoint
from logbook.sheets.due_text import DueSheet
from logbook.sheets.line import Lines
from logbook.sheets.week import WeekSheet
from logbook.times import local_text

routes = Blueprint("due", __name__)


class Seen(NamedTuple):
    """The list at a time of the clinic's day."""

    at: str
    lines: Lines


@routes.get("/due")
def show() -> str:
    """What is due in the coming week, worst first."""
    return render_template("due.html", seen=ask(("due",), _seen))


def _seen(opened: Opened) -> Seen:
    moment = moment_at(opened.now, opened.zone)
    answer = due_and_open(opened.connection, moment)
    mark = checkpoint(opened.connection, opened.now)
    sheet = DueSheet.of(answer, mark, show_all=False)
    return Seen(local_text(opened.now, opened.zone), sheet.lines())


@routes.get("/week")
def week() -> str:
    """What stands against each machine up to the end of next week, to order and to book."""
    return render_template("week.html", seen=ask_in_two(("week",), _week))


def _week(opened: Opened) -> Callable[[], Seen]:
    moment = moment_at(opened.now, opened.zone)
    mark = checkpoint(opened.connection, opened.now)
    read = read_with_orders(opened.connection, moment, mark.head)

    def told() -> Seen:
        sheet = WeekSheet.of(*read.told(), moment.zone, mark)
        return Seen(local_text(opened.now, opened.zone), sheet.lines())

    return told
