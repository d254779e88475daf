"""What stands before every route: forged, foreign and endless requests end here."""

import hmac
import secrets
from hashlib import sha256

from flask import Flask, Response, abort, g, request
from werkzeug.wrappers import Response as Answer

from logbook.page.dress import is_called, is_from_here
from logbook.page.world import DEVICE_COOKIE, SIGNED_COOKIE, signer, world

MOST_BYTES = 65_536
"""The longest body of a request; our own choice, far above any form here."""
DEVICE_S = 400 * 86_400
MOST_OF_A_SECRET = 64
"""How long a device is known: as long as browsers keep a cookie (RFC 6265bis, from memory)."""
TOKEN = "token"  # noqa: S105  # The name of a field.
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
    app.after_request(_known_device)
    app.jinja_env.globals["token"] = token


def _known_host() -> None:
    if not is_called(world().names):
        abort(421)


def _own_form() -> None:
    """Refuse a form that another site sent in the name of whoever signs here."""
    if request.method in ("GET", "HEAD", "OPTIONS"):
        return
    given = request.form.get(TOKEN, "")
    if not is_from_here() or not hmac.compare_digest(given.encode(), token().encode()):
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


def _known_device(response: Response) -> Response:
    if g.get("new_device"):
        cookie(response, DEVICE_COOKIE, g.device, DEVICE_S)
    return response
