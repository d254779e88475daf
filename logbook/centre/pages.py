"""The group's pages, which only read: the sites, what is due, a site's board, places and lots.

Whoever reads shows a token once, which its browser then keeps as a cookie that no script reads;
each page looks anew whether the token still counts.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from threading import Lock
from typing import Any

from flask import Flask, Response, abort, g, make_response, redirect, render_template, request
from flask import url_for as address_of
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as Answer

from logbook.centre import asking
from logbook.centre.lots import lots
from logbook.centre.reading import reader_with_token
from logbook.centre.site_page import page_of
from logbook.centre.store import Store, sites
from logbook.errors import InputError, LogbookError, NotKnown
from logbook.page.dress import is_called, is_from_here, leads_here, new_app
from logbook.sheets.group import LotsSheet
from logbook.sheets.group_tables import DUE_ORDERS, SITE_ORDERS, Part, due_rows, site_rows
from logbook.units import shown

COOKIE = "reader"
KEPT_S = 43_200
"""After half a day the token is asked for again: a long shift. Our own choice, as long as a PIN
counts at the page of a clinic."""
MOST_BYTES = 4_096
"""The longest body of a request; our own choice, far above the one form here."""
MOST_SHOWN = 100
"""Rows of one page; our own choice: some 40 kB, and the next page is one tap away."""
ASKED = ("site", "region", "kind", "within", "written", "sort", "page")
"""What an address may ask of a table."""
REFUSED = {
    403: "This was not sent from a page of this centre. Go to the sites and begin anew.",
    404: "There is no such page. A site's page is opened from the sites.",
    405: "These pages only show; nothing can be recorded at them.",
    413: "That is longer than any token.",
    421: "This centre is not known under that name. Open it by the address that you were given.",
}
"""What is said where a request itself is refused, by the status of HTTP."""
NO_TOKEN = "Nobody reads here with that token. Ask whoever runs the centre for a new one."  # noqa: S105  # A sentence.


@dataclass(slots=True)
class _LotsKnown:
    """The lots as they were reckoned last, which takes long, and for which heads."""

    lock: Lock = field(default_factory=Lock)
    heads: object = None
    told: LotsSheet | None = None

    def ask(self, store: Store, now: datetime) -> LotsSheet:
        """The lots, reckoned anew where a site handed something over since."""
        with self.lock:
            heads = [(one.site, one.head) for one in asking.site_rows(store)]
            if self.told is None or self.told.unread or heads != self.heads:
                self.told, self.heads = lots(store, now), heads
            return self.told


@dataclass(frozen=True, slots=True)
class Pages:
    """What the pages need: the store, the names by which they may be called, a clock, a place for
    what whoever runs the centre should read, and whether they come with TLS."""

    store: Store
    names: frozenset[str]
    now: Callable[[], datetime]
    tell: Callable[[str], None]
    secure: bool
    lots_known: _LotsKnown = field(default_factory=_LotsKnown)


def create_pages(of: Pages) -> Flask:
    """The group's pages, to be called by a server of the WSGI kind (PEP 3333)."""
    app = new_app(__name__)
    app.config["MAX_CONTENT_LENGTH"] = MOST_BYTES
    app.context_processor(lambda: {"reader": g.get("reader"), "here": _here})
    _guard(app, of)
    _tell_failures(app, of)
    _enter(app, of)
    _show(app, of)
    return app


def _guard(app: Flask, of: Pages) -> None:
    @app.before_request
    def known() -> Answer | None:
        """Nobody is told anything who did not show a token that counts."""
        if not is_called(of.names):
            abort(421)
        if request.method not in ("GET", "HEAD") and not is_from_here():
            abort(403)
        if request.endpoint in ("static", "enter", "leave"):
            return None
        token = request.cookies.get(COOKIE)
        g.reader = reader_with_token(of.store, token) if token else None
        return None if g.reader else _ask_who("", request.full_path.rstrip("?"), 401)


def _ask_who(sentence: str, then: str, status: int) -> Response:
    page = render_template("enter.html", sentence=sentence, then=then)
    return make_response(page, status)


def _enter(app: Flask, of: Pages) -> None:
    @app.post("/enter")
    def enter() -> Answer:
        """Know a reader by the token from now on, at this browser."""
        then, token = request.form.get("then", ""), request.form.get("token", "").strip()
        if not token or reader_with_token(of.store, token) is None:
            return _ask_who(NO_TOKEN, then, 403)
        answer = redirect(then if leads_here(then) else address_of("show_sites"), 303)
        answer.set_cookie(
            COOKIE, token, max_age=KEPT_S, httponly=True, samesite="Lax", secure=of.secure
        )
        return answer

    @app.post("/leave")
    def leave() -> Answer:
        """Nobody reads at this browser any more."""
        answer = redirect(address_of("show_sites"), 303)
        answer.delete_cookie(COOKIE)
        return answer


def _show(app: Flask, of: Pages) -> None:
    @app.get("/")
    def show_sites() -> str:
        """Every site, those first that somebody should look after."""
        rows = site_rows(asking.site_rows(of.store), of.now(), _one_of(SITE_ORDERS))
        return render_template("sites.html", part=Part.of(rows, _number("page"), MOST_SHOWN))

    @app.get("/due")
    def show_due() -> str:
        """What is due at the sites, narrowed and sorted as the address says."""
        days = _number("within")
        narrowed = asking.Narrowed(_text("site"), _text("region"), _text("kind"), days)
        told = asking.due_list(of.store, narrowed, of.now())
        rows = due_rows(told.items, _one_of(DUE_ORDERS), fine=days is not None)
        return render_template(
            "due_list.html", part=Part.of(rows, _number("page"), MOST_SHOWN), unread=told.unread,
            narrowed=narrowed, choices=asking.choices(of.store),
        )  # fmt: skip

    @app.get("/site")
    def show_site() -> str:
        """The board of one site, by what it handed over."""
        name = request.args.get("name", "")
        for one in sites(of.store):
            if one.name == name:
                return render_template("site.html", told=page_of(of.store, one, of.now()))
        raise NotKnown("site", shown(name))

    @app.get("/where")
    def show_places() -> str:
        """Every place at which a serial number or a lot stands written."""
        written = _text("written")
        places = asking.where(of.store, written) if written else []
        part = Part.of(places, _number("page"), MOST_SHOWN)
        return render_template("where.html", part=part, written=written)

    @app.get("/lots")
    def show_lots() -> str:
        """Hours and litres of finished charges by lot."""
        told = of.lots_known.ask(of.store, of.now())
        part = Part.of(told.lots, _number("page"), MOST_SHOWN)
        return render_template("lots.html", part=part, unread=told.unread)


def _here(**other: Any) -> str:
    """The page at hand, sorted or turned otherwise. What else stands in an address that somebody
    was led to, which could mean more than a question here, is dropped."""
    asked: dict[str, Any] = {name: request.args[name] for name in ASKED if name in request.args}
    return address_of(str(request.endpoint), **{**asked, **other})


def _text(name: str) -> str | None:
    return request.args.get(name, "").strip() or None


def _number(name: str) -> int | None:
    typed = _text(name)
    if typed is None:
        return None
    if not (typed.isascii() and typed.isdigit() and len(typed) < 5):
        raise InputError(f"{shown(typed)} is no whole number here", "write it like 60")
    return int(typed)


def _one_of(orders: Mapping[str, object]) -> str:
    """The order that the address asks for; the first where it asks for none that there is."""
    asked = request.args.get("sort", "")
    return asked if asked in orders else next(iter(orders))


def _tell_failures(app: Flask, of: Pages) -> None:
    @app.errorhandler(LogbookError)
    def failed(error: LogbookError) -> Response:
        if isinstance(error, InputError):
            status = 404 if isinstance(error, NotKnown) else 422
            sentence = f"{error.wrong[:1].upper()}{error.wrong[1:]}."
            return make_response(render_template("cannot.html", sentence=sentence), status)
        # The sentence names the store, which is nobody's business who only reads.
        of.tell(f"{error}.")
        sentence = "The centre's store cannot be read now. Try again in a moment."
        return make_response(render_template("cannot.html", sentence=sentence), 503)

    @app.errorhandler(HTTPException)
    def refused(error: HTTPException) -> Response:
        status = error.code or 500
        if status < 400:
            return make_response(error.get_response())
        sentence = REFUSED.get(status, "This request was not understood.")
        return make_response(render_template("cannot.html", sentence=sentence), status)
