"""What falls due as a calendar that other programs renew by themselves, behind a secret address."""

import hmac
from hashlib import sha256

from flask import Blueprint, Response, abort

from logbook.answers.dated import dated, ended
from logbook.answers.moment import moment_at
from logbook.ledger.store import last_recorded
from logbook.office.office import Opened
from logbook.page.world import ask, world
from logbook.proof.checkpoint import checkpoint
from logbook.sheets.calendar import calendar

routes = Blueprint("feed", __name__)


def address(key: bytes) -> str:
    """Where the calendar stands below a page: no program that asks for it can sign in."""
    secret = hmac.new(key, b"calendar", sha256).hexdigest()[:32]
    return f"calendar/{secret}.ics"


@routes.get("/calendar/<name>")
def show(name: str) -> Response:
    """The calendar as it stands now, and what ended for good as cancelled."""
    if not hmac.compare_digest(f"calendar/{name}".encode(), address(world().key).encode()):
        abort(404)
    return Response(ask(("calendar",), _calendar), mimetype="text/calendar")


def _calendar(opened: Opened) -> bytes:
    moment = moment_at(opened.now, opened.zone)
    found, over = dated(opened.connection, moment), ended(opened.connection, moment)
    mark = checkpoint(opened.connection, opened.now)
    at = last_recorded(opened.connection) or opened.now
    return calendar(found, opened.clinic.name, mark, at, ended=over)
