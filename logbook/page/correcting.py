"""Correcting an entry: what it should have said, or that it never happened, with a reason."""

from collections.abc import Callable
from typing import NamedTuple

from flask import Blueprint, abort, make_response, render_template, request
from werkzeug.wrappers import Response as Answer

from logbook.answers.changeable import Changeable, changeable
from logbook.answers.history import entry_line
from logbook.errors import InputError
from logbook.ledger.store import read_entry
from logbook.office.office import Opened
from logbook.office.taking_down import Content
from logbook.page.acting import lead_alone, own_form, save, tell, text
from logbook.page.words import Refused, refusal
from logbook.page.world import heed, signer, world
from logbook.recording.correcting import (
    Change,
    as_it_counts,
    correction_body,
    withdrawal,
)
from logbook.sheets.history_text import HistoryEntry

routes = Blueprint("correcting", __name__)
FIELD = "now-"
"""How the names of the fields begin that hold what the entry should have said."""


class Seen(NamedTuple):
    """An entry and what of it can be told anew."""

    entry: HistoryEntry
    fields: list[Changeable]


@routes.get("/entry/<int(max=999999999999):seq>/correct")
@own_form
def ask(seq: int) -> str:
    """Show what the entry says, field by field."""
    return _form(seq)


@routes.post("/entry/<int(max=999999999999):seq>/correct")
def correct(seq: int) -> Answer:
    """Record what it should have said."""
    return _recorded(seq, lambda opened: _told_anew(opened, seq))


@routes.post("/entry/<int(max=999999999999):seq>/withdraw")
def withdraw(seq: int) -> Answer:
    """Record that it never happened."""
    return _recorded(seq, lambda opened: (withdrawal(opened, seq, _reason()), opened.now))


def _recorded(seq: int, content: Callable[[Opened], Content]) -> Answer:
    _refuse_what_another_signed(seq)
    try:
        return tell(save(content))
    except InputError as error:
        return make_response(_form(seq, refusal(error)), 422)


def _form(seq: int, refused: Refused | None = None) -> str:
    with world().office.reading(heed) as opened:
        found = as_it_counts(opened, seq)
        line = entry_line(opened.connection, seq)
        seen = Seen(HistoryEntry.of(line, opened.zone), changeable(found.body, opened.zone))
    who = signer()
    others = who is not None and not who.leads and who.initials != seen.entry.by
    return render_template("correct.html", seen=seen, refused=refused, others=others)


def _refuse_what_another_signed(seq: int) -> None:
    """Whoever signs corrects what they signed; a lead also what others did."""
    who = signer()
    with world().office.reading(heed) as opened:
        found = read_entry(opened.connection, seq)
    if found is None:
        abort(404)
    if who is not None and found.by != who.initials:
        lead_alone()


def _told_anew(opened: Opened, seq: int) -> Content:
    body = as_it_counts(opened, seq).body
    pairs = [
        (one.words, told)
        for one in changeable(body, opened.zone)
        # A field that was not sent at all says nothing; one that was emptied takes the value out.
        if (told := request.form.get(FIELD + one.field)) is not None
        and told.strip() != (one.now or "")
    ]
    change = Change(fields=tuple(pairs), happened=text("happened"))
    if not change:
        raise InputError("nothing was changed", "say what it should have said, or withdraw it")
    return correction_body(opened, seq, opened.now, change, _reason()), opened.now


def _reason() -> str:
    reason = text("reason")
    if reason is None:
        raise InputError("the reason is not told", "say why")
    return reason
