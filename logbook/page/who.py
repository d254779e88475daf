"""Signing at a screen: initials and PIN, and leaving again."""

import re
from collections.abc import Sequence

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from logbook.entries.explaining import DEVICE
from logbook.page.dress import leads_here
from logbook.page.guard import DEVICE_S, cookie
from logbook.page.signing import WaitFirstError, WrongPinError
from logbook.page.world import NAME_COOKIE, SIGNED_COOKIE, device_name, world

routes = Blueprint("who", __name__)


@routes.get("/who")
def show() -> str:
    """Who signs here, and the form by which somebody does."""
    return who_page("", then=request.args.get("then", ""))


@routes.post("/who")
def enter() -> Answer:
    """Let a person sign at this screen whose PIN is right."""
    given, then = request.form, request.form.get("then", "")
    carried = [one for one in given.items(multi=True) if one[0].startswith("kept.")]
    kept = [(name.removeprefix("kept."), value) for name, value in carried]
    initials = given.get("initials", "").strip().upper()
    try:
        secret = world().signing.begin(
            initials, given.get("pin", "").strip(), request.remote_addr or ""
        )
    except WaitFirstError as error:
        sentence = f"Too many wrong PINs. Wait {_wait(error.wait_s)}, then try again."
        return make_response(who_page(sentence, then, kept, initials), 429)
    except WrongPinError:
        sentence = "These initials and this PIN do not belong together. Try again."
        return make_response(who_page(sentence, then, kept, initials), 403)
    response = _goes_on(initials, then, kept)
    cookie(response, SIGNED_COOKIE, secret)
    called = given.get("device", "").strip()
    if re.fullmatch(DEVICE, called):
        cookie(response, NAME_COOKIE, called, DEVICE_S)
    return response


@routes.post("/leave")
def leave() -> Answer:
    """Nobody signs at this screen any more."""
    world().signing.end(request.cookies.get(SIGNED_COOKIE, ""))
    response = redirect(url_for("board.show"), 303)
    response.delete_cookie(SIGNED_COOKIE)
    return response


def who_page(
    sentence: str, then: str, carried: Sequence[tuple[str, str]] = (), initials: str = ""
) -> str:
    """The form for initials and PIN; what was to be saved waits in it."""
    return render_template(
        "who.html", sentence=sentence, then=then, carried=carried, initials=initials,
        device=device_name() or "",
    )  # fmt: skip


def _goes_on(initials: str, then: str, kept: Sequence[tuple[str, str]]) -> Answer:
    path = then if leads_here(then) else url_for("board.show")
    if not kept:
        return redirect(path, 303)
    return make_response(render_template("send.html", carried=kept, path=path, initials=initials))


def _wait(seconds: int) -> str:
    return f"{seconds} s" if seconds < 90 else f"{-(-seconds // 60)} min"
