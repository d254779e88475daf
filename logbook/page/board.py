"""All machines at a glance, worst first."""

from typing import NamedTuple
from urllib.parse import parse_qs, urlsplit

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from logbook.answers.board import board
from logbook.answers.closing import Closing, closing
from logbook.answers.moment import moment_at
from logbook.errors import InputError
from logbook.office.office import Opened
from logbook.page.scanned import is_package
from logbook.page.words import FORMS
from logbook.page.world import ask, heed, world
from logbook.projections.lookup import machine_views, vaporizer_views
from logbook.proof.receipt import kept
from logbook.sheets.board_cards import Card, cards
from logbook.sheets.board_text import Acknowledged
from logbook.times import duration_text, local_text
from logbook.units import shown

routes = Blueprint("board", __name__)
CLOSING_H = 16
"""From this hour on the board tells what is left of the day; our own choice: before the last people
go home."""
FORM_NAMES = {form for _, form in FORMS.values()}
"""The forms of a unit to which a link leads that knows its tag alone."""


class Seen(NamedTuple):
    """The board at a time of the clinic's day."""

    at: str
    cards: list[Card]
    left: list[str]
    """At the end of the day, what is left of it."""
    held: str
    """What a group's centre acknowledged; nothing where none did."""


@routes.get("/")
def show() -> str:
    """A card for each machine, the worst first."""
    return render_template("board.html", board=ask(("board",), seen_board))


@routes.get("/find")
def find() -> Answer:
    """The page of a machine or vaporizer by its tag, typed or scanned."""
    tag = _tag_in(request.args.get("tag", "").strip()).lower()
    with world().office.reading(heed) as opened:
        page = _page_of(opened, tag)
    act = request.args.get("act")
    return redirect(f"{page}/{act}" if act in FORM_NAMES else page, 303)


def _tag_in(typed: str) -> str:
    """The tag in what was typed: a scanner types the whole address that stands on a label."""
    address = urlsplit(typed)
    if address.scheme not in ("http", "https"):
        return typed
    return next(iter(parse_qs(address.query).get("tag", [])), typed)


def seen_board(opened: Opened) -> Seen:
    """Every machine at a time."""
    moment = moment_at(opened.now, opened.zone)
    machines = cards(board(opened.connection, moment))
    is_late = opened.now.astimezone(opened.zone).hour >= CLOSING_H
    left = _left(closing(opened.connection, moment)) if is_late else []
    last = kept(world().office.ledger)
    held = Acknowledged.of(last.receipt.entries, last.receipt.at, opened.zone) if last else None
    return Seen(local_text(opened.now, opened.zone), machines, left, held.words if held else "")


def _left(told: Closing) -> list[str]:
    runs = [f"{tag}: a case still runs, for {duration_text(s)}" for tag, s in told.running.items()]
    used = [
        f"{tag}: used today before a daily check had passed ({count} case{'s' * (count > 1)})"
        for tag, count in told.unchecked.items()
    ]
    return runs + used


def _page_of(opened: Opened, tag: str) -> str:
    """Where the page of a tag is.

    Raises:
        InputError: nothing here has that tag.
    """
    at_s = int(opened.now.timestamp())
    if tag in machine_views(opened.connection, at_s):
        return url_for("machine.show", tag=tag)
    if tag in vaporizer_views(opened.connection, at_s):
        return f"/vaporizer/{tag}"
    wrong = f"there is no machine or vaporizer {shown(tag)}"
    if is_package(tag):
        raise InputError(wrong, "a package is scanned into the form of a change or a fill")
    raise InputError(wrong, "look at its label")
