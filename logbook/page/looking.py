"""A look at evidence of some days, behind a secret address, until its time is over."""

import hmac
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from flask import Flask, Response, abort, render_template, send_from_directory

from logbook.page.dress import HEADERS
from logbook.units import printable

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'"
"""The report brings its own style and codes; nothing else is loaded, and no script runs."""


@dataclass(frozen=True, slots=True)
class Look:
    """A folder of evidence that is shown until an instant, and the secret of its address."""

    folder: Path
    title: str
    until: datetime
    clock: Callable[[], datetime]
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(24))

    def files(self) -> list[str]:
        """Every file to be looked at, the report first."""
        paths = (path for path in self.folder.rglob("*") if path.is_file())
        names = sorted(path.relative_to(self.folder).as_posix() for path in paths)
        return sorted(names, key=lambda name: (name != "report.html", "/" in name))


def create_look(of: Look) -> Flask:
    """The pages of a look, to be called by a server of the WSGI kind (PEP 3333)."""
    app = Flask(__name__)
    app.jinja_env.finalize = lambda value: printable(value) if type(value) is str else value

    def refuse(secret: str) -> None:
        if not hmac.compare_digest(secret.encode(), of.secret.encode()):
            abort(404)
        if of.clock() >= of.until:
            abort(410)

    @app.get("/<secret>/")
    def show(secret: str) -> str:
        refuse(secret)
        return render_template("look.html", title=of.title, until=of.until, files=of.files())

    @app.get("/<secret>/<path:name>")
    def file(secret: str, name: str) -> Response:
        refuse(secret)
        answer: Response = send_from_directory(of.folder.resolve(), name)
        # What a program reads is shown as the text that it is, and run by nothing.
        if not name.endswith(".html"):
            answer.mimetype = "text/plain"
        return answer

    @app.after_request
    def dressed(answer: Response) -> Response:
        for name, value in HEADERS.items():
            answer.headers[name] = value
        answer.headers["Content-Security-Policy"] = POLICY
        answer.headers["Cache-Control"] = "no-store"
        answer.headers["Referrer-Policy"] = "no-referrer"
        return answer

    return app
