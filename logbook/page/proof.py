"""Where the ledger stands, and whether it is whole and unchanged."""

from threading import Lock
from typing import NamedTuple

import segno
from flask import Blueprint, render_template

from logbook.office.office import Opened
from logbook.page.world import ask, world
from logbook.proof.checkpoint import Checkpoint, checkpoint
from logbook.proof.verify import Verified, verify
from logbook.times import local_text

routes = Blueprint("proof", __name__)
NAME = "the logbook"
"""What a finding calls the file: a page names no path."""
MOST_SHOWN = 20
"""How many findings and remarks a page shows; our own choice."""
_one_at_a_time = Lock()
"""Verifying reads the whole file: two people who ask wait one behind the other."""


class Seen(NamedTuple):
    """Where the ledger stands at a time of the clinic's day, in words and as a code."""

    at: str
    mark: Checkpoint
    code: str


@routes.get("/proof")
def show() -> str:
    """The checkpoint, to be compared or kept on paper."""
    return _page(None)


@routes.post("/proof")
def look() -> str:
    """Look at everything in the file; nothing is recorded."""
    with _one_at_a_time:
        found = verify(world().office.ledger, name=NAME)
    return _page(found)


def _page(found: Verified | None) -> str:
    seen = ask(("proof",), _seen)
    return render_template("proof.html", seen=seen, found=found, most=MOST_SHOWN)


def _seen(opened: Opened) -> Seen:
    mark = checkpoint(opened.connection, opened.now)
    code: str = segno.make(mark.short(), error="m", micro=False).svg_inline(
        border=4, omitsize=True, svgclass="code", lineclass=None
    )
    return Seen(local_text(opened.now, opened.zone), mark, code)
