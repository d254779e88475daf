"""What stands before every route: forged, foreign and endless requests end here."""

import hmac
import secrets
from hashlib import sha256
from ipaddress import ip_address
from urllib.parse import urlsplit

from flask import Flask, Response, abort, g, request
from werkzeug.wrappers import Response as Answer

from logbook.page.world import DEVICE_COOKIE, SIGNED_COOKIE, signer, world

MOST_BYTES = 65_536
"""The longest body of a request; our own choice, far above any form here."""
DEVICE_S = 400 * 86_400
MOST_OF_A_SECRET = 64
"""How long a device is known: as long as browsers keep a cookie (RFC 6265bis, from memory)."""
TOKEN = "token"  # noqa: S105  # The name of a field.
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
ASKS_FOR_NO_PIN = {"who.enter", "who.leave"}
"""The forms that a person may send who has not signed in."""


class NeedsPinError(Exception):
    """A form was sent by somebody who does not sign here, or no longer."""


class NeedsLeadError(Exception):
    """A lead alone does this, and somebody else signs here."""


def set_up(app: Flask) -> None:
    """Put the guards before every route of a page."""
    app.config["MAX_CONTENT_LENGTH"] = MOST_BYTES
    app.before_request(_known_host)
    app.before_request(_own_form)
    app.before_request(_signed_form)
    app.after_request(_dressed)
    app.jinja_env.globals["token"] = token


def _known_host() -> None:
    """Refuse a name that is not ours: a foreign site whose name was made to lead here would read
    all that a browser in this network may read. An address in digits leads nowhere else."""
    name = _host_name(request.host)
    if name not in world().names and not _is_address(name):
        abort(421)


def _host_name(host: str) -> str:
    return (urlsplit(f"//{host}").hostname or "").rstrip(".").lower()


def _is_address(name: str) -> bool:
    try:
        ip_address(name)
    except ValueError:
        return False
    return True


def _own_form() -> None:
    """Refuse a form that another site sent in the name of whoever signs here."""
    if request.method in ("GET", "HEAD", "OPTIONS"):
        return
    came_from = request.headers.get("Sec-Fetch-Site")
    if came_from is None:
        # Browsers leave it out where the page comes without TLS, and tell the origin.
        came_from = "same-origin" if request.origin == request.host_url.rstrip("/") else "other"
    given = request.form.get(TOKEN, "")
    if came_from != "same-origin" or not hmac.compare_digest(given.encode(), token().encode()):
        abort(403)
    if world().read_only:
        abort(405)


def _signed_form() -> None:
    if request.method != "POST" or request.endpoint in ASKS_FOR_NO_PIN:
        return
    found, here = signer(), world()
    if found is None:
        raise NeedsPinError
    secret = request.cookies.get(SIGNED_COOKIE, "")
    if found is not here.demo and not here.signing.still_fits(secret):
        here.signing.end(secret)
        raise NeedsPinError
    if not found.signs:
        abort(403)


def token() -> str:
    """What every form of this device carries, and no other site can know."""
    return hmac.new(world().key, _device().encode(), sha256).hexdigest()


def _device() -> str:
    """The secret by which this device is known; a new one where it brought none."""
    if "device" not in g:
        told = request.cookies.get(DEVICE_COOKIE, "")
        g.device = told if 32 <= len(told) <= MOST_OF_A_SECRET else secrets.token_urlsafe(32)
        g.new_device = g.device != told
    return str(g.device)


def cookie(response: Answer, name: str, value: str, age_s: int | None = None) -> None:
    """Set a cookie that no script reads and no other site sends."""
    response.set_cookie(
        name, value, max_age=age_s, httponly=True, samesite="Lax", secure=world().secure
    )


def _dressed(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers[name] = value
    if request.endpoint != "static":
        response.headers["Cache-Control"] = "no-store"
    if g.get("new_device"):
        cookie(response, DEVICE_COOKIE, g.device, DEVICE_S)
    return response
