"""The board for a screen across the room: it renews itself, and nobody signs at it."""

from flask import Blueprint, render_template

from logbook.page.board import seen_board
from logbook.page.world import ask

routes = Blueprint("wall", __name__)
RENEWED_S = 30
"""How often the screen asks anew; our own choice."""


@routes.get("/wall")
def show() -> str:
    """All machines, the worst first."""
    return render_template("wall.html", board=ask(("board",), seen_board), renewed_s=RENEWED_S)
