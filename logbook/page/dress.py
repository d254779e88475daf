"""What every page of ours has, whichever door it stands in: its look, its policy, its guards."""

import re
from collections.abc import Set
from ipaddress import ip_address
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from flask import Flask, Response, request
from jinja2 import ChoiceLoader, FileSystemLoader
from markupsafe import Markup, escape

from logbook import __version__
from logbook.sheets.board_text import HEED
from logbook.times import local_text
from logbook.units import printable

ROOM = Path(__file__).parent
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; form-action 'self'; img-src 'self'; "
    "connect-src 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    # With "no-referrer" a browser would send a form's origin as "null".
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def new_app(room: str) -> Flask:
    """A door whose pages have our style sheet and what several of them are made of."""
    app = Flask(room, static_folder=ROOM / "static", static_url_path="/static")
    own = FileSystemLoader(Path(app.root_path) / "templates")
    app.jinja_loader = ChoiceLoader([own, FileSystemLoader(ROOM / "templates")])
    app.config["SEND_FILE_MAX_AGE_DEFAULT"] = 3_600
    app.url_map.strict_slashes = False
    app.jinja_env.finalize = _shown
    app.jinja_env.filters["dated"] = _dated
    app.jinja_env.filters["local"] = local_text
    app.jinja_env.globals |= {"heed": HEED, "version": __version__}
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.after_request(_dressed)
    return app


def _shown(value: Any) -> Any:
    """What somebody typed must not turn the reading order or hide; markup is escaped after this."""
    return printable(value) if type(value) is str else value


_DAY = re.compile(r"\d{4}-\d{2}-\d{2}(?: \d{2}:\d{2})?", re.ASCII)


def _dated(sentence: str) -> Markup:
    """A sentence in which no day is broken at its hyphens where the line ends."""
    text = str(escape(printable(sentence)))
    return Markup(_DAY.sub(r'<span class="day">\g<0></span>', text))  # noqa: S704  # Escaped.


def _dressed(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers[name] = value
    if request.endpoint != "static":
        response.headers["Cache-Control"] = "no-store"
    return response


def is_called(names: Set[str]) -> bool:
    """Whether the request at hand calls us by one of our names: a foreign site whose name was made
    to lead here would read all that a browser in this network may read. An address in digits leads
    nowhere else."""
    name = (urlsplit(f"//{request.host}").hostname or "").rstrip(".").lower()
    return name in names or _is_address(name)


def _is_address(name: str) -> bool:
    try:
        ip_address(name)
    except ValueError:
        return False
    return True


def is_from_here() -> bool:
    """Whether the request at hand was sent from a page of ours, and not by another site."""
    came_from = request.headers.get("Sec-Fetch-Site")
    if came_from is None:
        # Browsers leave it out where the page comes without TLS, and tell the origin.
        return request.origin == request.host_url.rstrip("/")
    return came_from == "same-origin"


def leads_here(path: str) -> bool:
    """Whether a way leads to a page of ours; a browser reads a backslash as a slash."""
    parts = urlsplit(path)
    plain = path.startswith("/") and path.isprintable() and "\\" not in path
    return plain and not path.startswith("//") and not parts.scheme and not parts.netloc
