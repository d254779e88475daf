"""A label for a machine or vaporizer: its page's address as a code, its tag in words; and the
address of the board, for a device that shall find it."""

from datetime import date
from io import BytesIO
from typing import NamedTuple

import segno
from flask import Blueprint, Response, render_template, request, url_for

from logbook.answers.equipment import known_unit
from logbook.answers.moment import moment_at
from logbook.answers.service import next_services
from logbook.office.office import Opened
from logbook.page.world import ask
from logbook.projections.lookup import vaporizer_views
from logbook.sheets.paper import QUIET_MODULES, SIDE_MM

routes = Blueprint("label", __name__)


class Seen(NamedTuple):
    """What stands on a label in words."""

    kind: str
    next_service: date | None


@routes.get("/label/<tag>")
def show(tag: str) -> str:
    """The label as a page to be printed."""
    seen = ask(("label", tag), lambda opened: _seen(opened, tag))
    return render_template("label.html", tag=tag, seen=seen, side_mm=SIDE_MM)


@routes.get("/label/<tag>/code.svg")
def code(tag: str) -> Response:
    """The code alone, which leads to the unit's page at the address that was asked for."""
    ask(("label", tag), lambda opened: _seen(opened, tag))
    return _code(request.host_url.rstrip("/") + url_for("board.find", tag=tag))


@routes.get("/address")
def address() -> str:
    """The address of the board, in words and as a code."""
    return render_template("address.html", address=request.host_url, side_mm=SIDE_MM)


@routes.get("/address/code.svg")
def address_code() -> Response:
    """The code alone."""
    return _code(request.host_url)


def _code(address: str) -> Response:
    drawn = BytesIO()
    segno.make_qr(address, error="m").save(drawn, kind="svg", border=QUIET_MODULES, omitsize=True)
    return Response(drawn.getvalue(), mimetype="image/svg+xml")


def _seen(opened: Opened, tag: str) -> Seen:
    known_unit(opened.connection, tag)
    moment = moment_at(opened.now, opened.zone)
    held = vaporizer_views(opened.connection, moment.at_s).get(tag)
    kind = f"{held.agent} vaporizer" if held else "anesthesia machine"
    return Seen(kind, next_services(opened.connection, moment).get(tag))
