"""Whether the page works, for a program that watches it."""

from pathlib import Path
from typing import Any

from flask import Blueprint, Response, jsonify, make_response

from logbook.errors import LogbookError
from logbook.ledger.store import head
from logbook.office.office import Opened
from logbook.page.world import heed, world
from logbook.proof.receipt import kept
from logbook.times import utc_text

routes = Blueprint("health", __name__)


@routes.get("/health")
def show() -> Response:
    """The ledger's identity, its number of entries, and up to which a group's centre acknowledged
    them, and when (null where none did); 503 where it does not open."""
    try:
        with world().office.reading(heed) as opened:
            return jsonify(
                status="ok",
                ledger=opened.uuid,
                entries=_entries(opened),
                acknowledged=_acknowledged(world().office.ledger),
            )
    except LogbookError as error:
        return make_response(jsonify(status="not open", why=type(error).__name__), 503)


def _acknowledged(ledger: Path) -> dict[str, Any] | None:
    if last := kept(ledger):
        return {"entries": last.receipt.entries, "at": utc_text(last.receipt.at)}
    return None


def _entries(opened: Opened) -> int:
    return head(opened.connection)[0]
