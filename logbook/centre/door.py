"""The centre's door in the network: a site sends a segment, and the signed receipt comes back.

``POST /segments`` takes the lines of a segment from whoever has the site's token (a bearer token,
RFC 6750). Whatever is refused is told as problem details (RFC 9457), and nothing of it is kept;
``wanted`` is then the number of the entry to go on from, ``entry`` that of one which contradicts
what was handed over before.
"""

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from http import HTTPStatus
from io import BytesIO, TextIOWrapper
from typing import TYPE_CHECKING, Any

from flask import Flask, Response, abort, request
from werkzeug.exceptions import HTTPException

from logbook.centre.each import for_each
from logbook.centre.renewing import renew
from logbook.centre.store import Site, Store, site_with_token
from logbook.centre.taking import Contradicts, Gap, Taken, take
from logbook.errors import InputError, LogbookError
from logbook.proof.segment import Segment, read_segment
from logbook.proof.signing import Signer

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

MOST_BYTES = 8_000_000
"""The longest segment that is taken; our own choice, many times what a site sends at once."""
RETRY_S = 30
"""After so many seconds it is worth to try again; our own choice."""
REFUSED = {
    400: "the request broke off or was not understood; send it again",
    401: "no site is known by this token; ask whoever runs the centre for a new one",
    404: "a centre takes segments at /segments, and nothing is here",
    405: "segments are sent with POST",
    411: "the length of the segment is not told",
    413: f"the segment is longer than {MOST_BYTES} bytes; send it in parts",
    500: "the centre made a mistake, and took nothing; tell whoever runs it",
}
"""What is said where a request itself is refused, by the status of HTTP."""
NOT_NOW = "the centre cannot tell now whether it took this; send the same again"


@dataclass(frozen=True, slots=True)
class Door:
    """What taking segments needs: the store, the key that signs, a clock, and a place for what
    whoever runs the centre should read."""

    store: Store
    signer: Signer
    now: Callable[[], datetime]
    tell: Callable[[str], None]


def create_app(door: Door) -> Flask:
    """The centre's door, to be called by a server of the WSGI kind (PEP 3333)."""
    app = Flask(__name__, static_folder=None)

    @app.before_request
    def measured() -> None:
        """What is too long is refused before any of it is read."""
        if (request.content_length or 0) > MOST_BYTES:
            abort(413)

    @app.get("/health")
    def health() -> Response:
        """Whether the store answers."""
        with door.store.of_group():
            return Response('{"status": "ok"}\n', content_type="application/json")

    @app.post("/segments")
    def segments() -> Response:
        """Take a segment of the site whose token was shown."""
        one = _shown_by(door.store)
        if request.content_length is None:
            abort(411)
        segment = _read(_sent())
        if segment.ledger != one.uuid:
            raise _OfAnother(f"the segment is not of the ledger of {one.name}, whose token this is")
        taken = take(door.store, segment, door.signer, door.now())
        answer = Response(taken.note, content_type="text/plain; charset=utf-8")
        # Whoever waits for the receipt need not wait for what the group asks.
        answer.call_on_close(lambda: _renewed(door, taken))
        return answer

    @app.errorhandler(LogbookError)
    def failed(error: LogbookError) -> Response:
        return _refusal(door, error)

    @app.errorhandler(HTTPException)
    def refused(error: HTTPException) -> Response:
        status = error.code or 500
        answer = _problem(status, REFUSED.get(status, REFUSED[400]))
        if status == 401:
            answer.headers["WWW-Authenticate"] = "Bearer"
        return answer

    return app


def beside_pages(door: Flask, pages: Flask) -> "WSGIApplication":
    """The door and the group's pages at one address: each path belongs to one of them."""
    own = {rule.rule for rule in door.url_map.iter_rules()}

    def answer(environ: "WSGIEnvironment", start: "StartResponse") -> Iterable[bytes]:
        asked = door if environ.get("PATH_INFO") in own else pages
        return asked(environ, start)

    return answer


class _OfAnother(InputError):
    """A segment of another ledger than the one whose site sent it."""


def _shown_by(store: Store) -> Site:
    """The site whose token stands in the request."""
    shown = request.authorization
    told = shown.token if shown and shown.type == "bearer" else None
    found = site_with_token(store, told) if told else None
    if found is None:
        abort(401)
    return found


def _sent() -> bytes:
    """All that was sent; a line that is cut is heard of as one that ends, or as an error."""
    try:
        return request.get_data(cache=False)
    except OSError:
        abort(400)


def _read(body: bytes) -> Segment:
    with TextIOWrapper(BytesIO(body), "utf-8", errors="replace", newline="\n") as lines:
        return read_segment(lines)


def _renewed(door: Door, taken: Taken) -> None:
    """Read what is due at the site; where that fails, whoever asks next reads it."""
    for one in for_each([taken.site], lambda site: renew(door.store, site, door.now())):
        door.tell(f"{one.site}: what is due there is read at the next question: {one.why}.")


def _refusal(door: Door, error: LogbookError) -> Response:
    if isinstance(error, Gap):
        return _problem(409, str(error), wanted=error.wanted)
    if isinstance(error, Contradicts):
        door.tell(f"Not taken: {error}.")
        return _problem(422, str(error), entry=error.entry)
    if isinstance(error, _OfAnother):
        return _problem(403, str(error))
    if isinstance(error, InputError):
        return _problem(422, str(error))
    # The sentence names the store, which is no site's business.
    door.tell(f"{error}.")
    answer = _problem(503, NOT_NOW)
    answer.headers["Retry-After"] = str(RETRY_S)
    return answer


def _problem(status: int, detail: str, **more: Any) -> Response:
    told = {"type": "about:blank", "title": HTTPStatus(status).phrase, "status": status}
    body = json.dumps(told | {"detail": detail} | more) + "\n"
    return Response(body, status, content_type="application/problem+json")
