"""A list on paper, for the day on which the page cannot be reached, and how to enter it later."""

from flask import Blueprint, render_template

from logbook.answers.lists import current_list, list_names
from logbook.checklists.model import Checklist
from logbook.errors import NotKnown
from logbook.office.office import Opened
from logbook.page.world import ask
from logbook.units import shown

routes = Blueprint("paper", __name__)


@routes.get("/paper/<name>")
def show(name: str) -> str:
    """The blank list."""
    told = ask(("paper", name), lambda opened: _list(opened, name))
    return render_template("paper.html", list=told)


def _list(opened: Opened, name: str) -> Checklist:
    found = current_list(opened.connection, name)
    if found is None:
        raise NotKnown("list", shown(name), list_names(opened.connection))
    return found
