"""Putting a page together: its routes, its guards, and what every template may use."""

from typing import Any

from flask import Flask

from logbook.ledger.store import new_id
from logbook.page import (
    acts,
    board,
    case,
    check,
    correcting,
    due,
    entry,
    failing,
    feed,
    guard,
    health,
    history,
    label,
    machine,
    paper,
    proof,
    rules,
    setup,
    vaporizer,
    wall,
    who,
)
from logbook.page.dress import new_app
from logbook.page.world import World, signer, warnings, world
from logbook.sheets.board_text import MARKS

NOUNS = (
    acts, board, case, check, correcting, due, entry, feed, health, history, label, machine, paper,
    proof, rules, setup, vaporizer, wall, who,
)  # fmt: skip
"""Everything that has routes."""


def create_app(of: World) -> Flask:
    """The page of one ledger, to be called by a server of the WSGI kind (PEP 3333)."""
    app = new_app(__name__)
    app.extensions["logbook"] = of
    guard.set_up(app)
    failing.set_up(app)
    for noun in NOUNS:
        app.register_blueprint(noun.routes)
    app.context_processor(_always)
    return app


def _always() -> dict[str, Any]:
    return {
        "marks": MARKS,
        "new_id": new_id,
        "read_only": world().read_only,
        "signer": signer(),
        "warnings": warnings(),
    }
