"""Walking a check at the machine: one item a screen, kept as it goes, saved at the end."""

from collections.abc import Callable
from typing import Any

from flask import Blueprint, abort, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answered

from logbook.answers.checking import check_body
from logbook.checklists import POP_OFF_OPEN, Answer, Item
from logbook.errors import InputError
from logbook.ledger.store import already_recorded, new_id
from logbook.office import unfinished
from logbook.office.office import Opened
from logbook.office.taking_down import Content, Recorded, take_down
from logbook.page.acting import IDENTITY, recorded_before, told
from logbook.page.guard import NeedsPinError
from logbook.page.walking import HOWS, Walk, judged_by_title, read_answer, read_walk
from logbook.page.words import Refused, refusal
from logbook.page.world import heed, signer, world
from logbook.recording.refusals import refuse_beforehand
from logbook.times import local_text

routes = Blueprint("check", __name__, url_prefix="/machine/<tag>/check/<name>")


BEGUN = "begun"
"""The field that tells of answers before this one: where they are gone, a person is told."""
SHOWN = "shown"
"""The field that carries which answers the page showed: what was answered elsewhere meanwhile is
seen before it counts."""


class _AlreadySavedError(Exception):
    """A form belongs to a check that became an entry: the person came back to an old page."""

    def __init__(self, seq: int) -> None:
        super().__init__(f"entry {seq}")
        self.seq = seq


@routes.get("")
def begin(tag: str, name: str) -> Answered:
    """The first item; where somebody began before, who and how to go on."""
    walk = _read(tag, name)
    if walk.so_far is None:
        return redirect(_at(walk)(walk.items[0].key, identity=new_id()), 303)
    return make_response(_page("resume.html", walk))


@routes.get("/item/<key>")
def item(tag: str, name: str, key: str) -> Answered:
    """One item, to be answered, or as it was answered."""
    walk = _read(tag, name, _again(key))
    one, how = _asked(walk, key), _how()
    return _left(walk, one) or make_response(_item_page(walk, one, how))


@routes.post("/item/<key>")
def answer(tag: str, name: str, key: str) -> Answered:
    """Keep the answer to one item."""
    walk = _read(tag, name, _again(key))
    one, how = _asked(walk, key), _how()
    try:
        given = read_answer(one, how, request.form)
        judged = judged_by_title(walk.walk, one, given)
        with world().office.writing(heed) as opened:
            after = _kept(opened, walk, one, given)
    except _AlreadySavedError as saved:
        return recorded_before(saved.seq)
    except InputError as error:
        walk = _read(tag, name, _again(key))
        return make_response(_item_page(walk, one, how, refusal(error)), 422)
    measured = given.value is not None or given.held_s is not None
    looked_at = judged.state == "failed" or (measured and one.kind != "choice")
    if how in ("", "hold", "number") and looked_at:
        return redirect(_at(after)(key), 303)
    return redirect(_next(after, one), 303)


@routes.get("/review")
def review(tag: str, name: str) -> Answered:
    """Everything that was answered, and the button that saves it."""
    walk = _read(tag, name)
    if walk.so_far is None:
        return _left(walk) or redirect(url_for("check.begin", tag=tag, name=name), 303)
    return _left(walk) or make_response(_review_page(walk))


@routes.post("/save")
def save(tag: str, name: str) -> Answered:
    """Make an entry of what was answered."""
    try:
        with world().office.writing(heed) as opened:
            saved = _saved(opened, tag, name)
    except _AlreadySavedError as before:
        return recorded_before(before.seq)
    except InputError as error:
        return make_response(_review_page(_read(tag, name), refusal(error)), 422)
    return redirect(url_for("entry.show", seq=saved.saved.entry.seq, saved="now"), 303)


@routes.post("/take-over")
def take_over(tag: str, name: str) -> Answered:
    """Go on with what another person began."""
    with world().office.writing(heed) as opened:
        walk = read_walk(opened, tag, name)
        if walk.so_far is not None:
            unfinished.take_over(opened, walk.so_far, _signs())
    return redirect(_page_of(walk, next(iter(walk.open_items), None)), 303)


@routes.post("/throw-away")
def throw_away(tag: str, name: str) -> Answered:
    """Forget what was begun, because a person wants to begin anew."""
    with world().office.writing(heed) as opened:
        walk = read_walk(opened, tag, name)
        if walk.so_far is not None and walk.so_far.id == request.form.get(IDENTITY):
            unfinished.throw_away(opened, walk.so_far)
    return redirect(url_for("check.begin", tag=tag, name=name), 303)


def _kept(opened: Opened, before: Walk, one: Item, given: Answer) -> Walk:
    """Keep an answer in the walk that its form belongs to."""
    by, told_walk = _signs(), request.form.get(IDENTITY, "")
    walk = read_walk(opened, before.walk.machine, before.walk.checklist.name, _again(one.key))
    so_far = walk.so_far
    if so_far is None:
        seq = already_recorded(opened.connection, told_walk)
        if seq is not None:
            raise _AlreadySavedError(seq)
        if BEGUN in request.form:
            raise InputError(
                "this check was thrown away elsewhere, or a backup was brought back, and what was "
                "answered before is gone",
                "begin it anew from the machine's page",
            )
        refuse_beforehand(opened.connection, walk.walk.machine, opened.now, by, opened.now)
        again_of = walk.walk.again.entry if walk.walk.again else None
        so_far = unfinished.begin(opened, walk.walk, by, opened.now, again_of, identity=told_walk)
    elif so_far.id != told_walk:
        raise InputError(
            f"{so_far.begun_by} began this check meanwhile", "answer once more to go on"
        )
    if walk.hindrance:
        raise InputError(walk.hindrance.rstrip("."), "begin it anew")
    _refuse_unseen(walk, one, given)
    unfinished.keep(opened, walk.walk, so_far, (one, given), by=by, now=opened.now)
    return read_walk(opened, walk.walk.machine, walk.walk.checklist.name)


def _refuse_unseen(walk: Walk, one: Item, given: Answer) -> None:
    """Show an answer that another screen gave meanwhile, before this one takes its place."""
    kept, shown = walk.kept.get(one.key), request.form.get(SHOWN)
    if kept is None or shown is None or shown == walk.state_of(one) or kept.answer == given:
        return
    seen = walk.seen(one)
    raise InputError(
        f"{kept.by} answered this at {local_text(kept.at, walk.zone)[11:16]} at another screen: "
        f"{seen.judged.sentence if seen else ''}",
        "answer once more to put yours in its place",
    )


def _saved(opened: Opened, tag: str, name: str) -> Recorded:
    walk, told_walk = read_walk(opened, tag, name), request.form.get(IDENTITY, "")
    so_far = walk.so_far
    if so_far is None or so_far.id != told_walk:
        seq = already_recorded(opened.connection, told_walk)
        if seq is not None:
            raise _AlreadySavedError(seq)
        raise InputError("this check was thrown away", "begin it anew from the machine's page")
    if waiting := walk.open_items:
        raise InputError(f"“{waiting[0].title}” has no answer", "answer it first")
    if walk.hindrance:
        raise InputError(walk.hindrance.rstrip(".").lower(), "begin it anew")
    if request.form.get(SHOWN, walk.state) != walk.state:
        raise InputError("an answer was changed at another screen meanwhile", "look it over again")
    body = check_body(walk.walk, so_far.answers, so_far)

    def content(opened: Opened) -> Content:
        return body, opened.now

    recorded = take_down(opened, told(content))
    unfinished.throw_away(opened, so_far)
    return recorded


def _read(tag: str, name: str, again: str = "") -> Walk:
    with world().office.reading(heed) as opened:
        return read_walk(opened, tag, name, again)


def _again(key: str) -> str:
    return key if "again" in request.args else ""


def _how() -> str:
    how = request.args.get("how", "")
    return how if how in HOWS else abort(404)


def _asked(walk: Walk, key: str) -> Item:
    found = walk.item(key)
    if found is None and walk.hindrance:
        # An item of a list that was changed meanwhile: the page of the walk says so in words.
        abort(redirect(url_for("check.begin", tag=walk.walk.machine, name=_name(walk)), 303))
    return found or abort(404)


def _name(walk: Walk) -> str:
    return walk.walk.checklist.name


def _signs() -> str:
    who = signer()
    if who is None:
        raise NeedsPinError
    return who.initials


def _next(walk: Walk, one: Item) -> str:
    """Where one goes on after an item."""
    return _page_of(walk, walk.after(one))


def _page_of(walk: Walk, one: Item | None) -> str:
    """Where an item is answered; without one, where everything is looked over."""
    return _at(walk)(one.key if one else None)


def _at(walk: Walk) -> Callable[..., str]:
    """The address of an item's page, or of the review; it names the walk, so that whoever comes
    back to it afterwards begins no other one."""
    where: dict[str, Any] = {"tag": walk.walk.machine, "name": walk.walk.checklist.name}
    if walk.so_far:
        where[IDENTITY] = walk.so_far.id

    def at(key: str | None = None, **more: Any) -> str:
        if key is None:
            return url_for("check.review", **where)
        return url_for("check.item", **where, key=key, **more)

    return at


def _left(walk: Walk, one: Item | None = None) -> Answered | None:
    """Where an address leads whose walk is no more: to its entry, or to the begin.

    At the first item a walk has a name before it is begun.
    """
    told_walk = request.args.get(IDENTITY)
    if told_walk is None or (walk.so_far and walk.so_far.id == told_walk):
        return None
    with world().office.reading(heed) as opened:
        seq = already_recorded(opened.connection, told_walk)
    if seq is not None:
        return recorded_before(seq)
    if walk.so_far is None and one == walk.items[0]:
        return None
    begin = url_for("check.begin", tag=walk.walk.machine, name=walk.walk.checklist.name)
    return redirect(begin, 303)


def _page(template: str, walk: Walk, **more: object) -> str:
    who = signer()
    other = walk.so_far is not None and who is not None and walk.so_far.walked_by != who.initials
    return render_template(
        template, walk=walk, tag=walk.walk.machine, name=walk.walk.checklist.name,
        title=walk.walk.checklist.title, so_far=walk.so_far, other=other, at=_at(walk), **more,
    )  # fmt: skip


def _review_page(walk: Walk, refused: Refused | None = None) -> str:
    rows = [(one, walk.seen(one)) for one in walk.items]
    return _page("review.html", walk, rows=rows, refused=refused)


def _item_page(walk: Walk, one: Item, how: str, refused: Refused | None = None) -> str:
    return _page(
        "item.html", walk, item=one, how=how, refused=refused, seen=walk.seen(one),
        number=walk.items.index(one) + 1, timing=walk.timing(one, how),
        before=walk.before(one), next=_next(walk, one),
        loud=one.key == POP_OFF_OPEN, anew="anew" in request.args or refused is not None,
    )  # fmt: skip
