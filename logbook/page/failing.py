"""Every failure becomes a page in words, with the same form to send again."""

from flask import Flask, Response, make_response, render_template, request
from werkzeug.exceptions import HTTPException

from logbook.errors import LogbookError, NotKnown
from logbook.page import words
from logbook.page.guard import TOKEN, NeedsLeadError, NeedsPinError
from logbook.page.who import who_page
from logbook.page.world import signer

SECRETS = {TOKEN, "pin"}
"""Fields that no page hands back."""
RETRY_S = 5
"""After so many seconds it is worth to try again; our own choice, half of what is waited for."""
REFUSED = {
    403: "This was not sent from a page of this logbook, or whoever signs here may only look. "
    "Go to the board and begin anew.",
    404: "There is no such page. A machine's page is opened from the board.",
    405: "This page only shows; nothing can be recorded at it.",
    413: "That is more than any form here holds. Nothing was saved.",
    421: "This logbook is not known under that name. Open it by the address that stands on its "
    "label.",
}
"""What is said where a request itself is refused, by the status of HTTP."""


def set_up(app: Flask) -> None:
    """Tell every failure in words."""
    app.register_error_handler(LogbookError, _failed)
    app.register_error_handler(NeedsPinError, _needs_pin)
    app.register_error_handler(NeedsLeadError, _needs_lead)
    app.register_error_handler(HTTPException, _refused)


def carried() -> list[tuple[str, str]]:
    """The fields of the form at hand, to be sent again."""
    return [pair for pair in request.form.items(multi=True) if pair[0] not in SECRETS]


def _failed(error: LogbookError) -> Response:
    told = words.told(error)
    status = 404 if isinstance(error, NotKnown) and request.method == "GET" else told.status
    page = render_template("trouble.html", told=told, carried=carried(), path=_here())
    response = make_response(page, status)
    if status == 503:
        response.headers["Retry-After"] = str(RETRY_S)
    return response


def _needs_pin(_error: NeedsPinError) -> Response:
    """Nothing is lost where the name was dropped: the form waits behind the PIN."""
    sentence = "Nothing was saved yet: sign first. What you gave is kept on this page."
    return make_response(who_page(sentence, then=_here(), carried=carried()), 401)


def _needs_lead(_error: NeedsLeadError) -> Response:
    who = signer()
    signs = f"{who.initials} signs here, and " if who else ""
    sentence = f"Nothing was saved: {signs}a lead does this. A lead can sign in on this page."
    return make_response(who_page(sentence, then=_here(), carried=carried()), 403)


def _refused(error: HTTPException) -> Response:
    status = error.code or 500
    if status < 400:
        return make_response(error.get_response())
    sentence = REFUSED.get(status, "This request was not understood. Nothing was saved.")
    return make_response(render_template("refused.html", sentence=sentence), status)


def _here() -> str:
    return request.full_path.rstrip("?")
