"""Putting a page together: its routes, its guards, and what every template may use."""

import re
from typing import Any

from flask import Flask
from markupsafe import Markup, escape

from logbook import __version__
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
from logbook.page.world import World, signer, warnings, world
from logbook.sheets.board_text import HEED, MARKS
from logbook.times import local_text
from logbook.units import printable

NOUNS = (
    acts, board, case, check, correcting, due, entry, feed, health, history, label, machine, paper,
    proof, rules, setup, vaporizer, wall, who,
)  # fmt: skip
"""Everything that has routes."""


def create_app(of: World) -> Flask:
    """The page of one ledger, to be called by a server of the WSGI kind (PEP 3333)."""
    app = Flask(__name__)
    app.extensions["logbook"] = of
    app.config["SEND_FILE_MAX_AGE_DEFAULT"] = 3_600
    app.url_map.strict_slashes = False
    app.jinja_env.finalize = _shown
    app.jinja_env.filters["dated"] = _dated
    app.jinja_env.filters["local"] = local_text
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    guard.set_up(app)
    failing.set_up(app)
    for noun in NOUNS:
        app.register_blueprint(noun.routes)
    app.context_processor(_always)
    return app


def _shown(value: Any) -> Any:
    """What somebody typed must not turn the reading order or hide; markup is escaped after this."""
    return printable(value) if type(value) is str else value


_DAY = re.compile(r"\d{4}-\d{2}-\d{2}(?: \d{2}:\d{2})?", re.ASCII)


def _dated(sentence: str) -> Markup:
    """A sentence in which no day is broken at its hyphens where the line ends."""
    text = str(escape(printable(sentence)))
    return Markup(_DAY.sub(r'<span class="day">\g<0></span>', text))  # noqa: S704  # Escaped.


def _always() -> dict[str, Any]:
    return {
        "heed": HEED,
        "marks": MARKS,
        "new_id": new_id,
        "read_only": world().read_only,
        "signer": signer(),
        "version": __version__,
        "warnings": warnings(),
    }
