"""Recording what a form says: one entry, its identity in the form, and a page that tells it."""

import re
from collections.abc import Callable, Mapping
from datetime import datetime
from decimal import Decimal
from functools import wraps
from typing import ParamSpec

from flask import make_response, redirect, request, url_for
from werkzeug.wrappers import Response as Answer

from logbook.errors import InputError
from logbook.ledger.store import already_recorded, new_id
from logbook.office.office import Opened
from logbook.office.taking_down import Content, Recorded, Told, take_down
from logbook.page.guard import NeedsLeadError, NeedsPinError
from logbook.page.world import door, heed, signer, world
from logbook.recording.retry import Identity

P = ParamSpec("P")
_COMMA = re.compile(r"^([0-9]+),([0-9]{1,2})(?![0-9,.])")
_BARE = re.compile(r"-?[0-9]+(\.[0-9]+)?", re.ASCII)
IDENTITY = "identity"
"""The field in which a form carries the identity of its entry; in an address it says the same."""


def own_form(page: Callable[P, str]) -> Callable[P, Answer]:
    """A page with a form for one entry, whose identity stands in the address.

    Whoever comes back to it after its entry was saved, or opens it once more, is told so.
    """

    @wraps(page)
    def shown(*given: P.args, **named: P.kwargs) -> Answer:
        identity = request.args.get(IDENTITY)
        if identity is None:
            told = {**(request.view_args or {}), **request.args}
            return redirect(url_for(str(request.endpoint), **told, identity=new_id()), 303)
        with world().office.reading(heed) as opened:
            seq = already_recorded(opened.connection, identity)
        return make_response(page(*given, **named)) if seq is None else recorded_before(seq)

    return shown


def recorded_before(seq: int) -> Answer:
    """Lead on to the page of an entry that was saved before."""
    return redirect(url_for("entry.show", seq=seq, saved="again"), 303)


def save(content: Callable[[Opened], Content]) -> Recorded:
    """Record one entry, signed by whoever signs here.

    Raises:
        InputError: the entry makes no sense.
        NotSaved: it cannot be written now.
    """
    with world().office.writing(heed) as opened:
        return take_down(opened, told(content))


def lead_alone() -> None:
    """End what a lead alone does where somebody else signs."""
    who = signer()
    if who is not None and not who.leads:
        raise NeedsLeadError


def told(content: Callable[[Opened], Content]) -> Told:
    """What the form tells, for an act that records in a transaction of its own."""
    who = signer()
    if who is None:
        raise NeedsPinError
    identity = Identity(request.form.get(IDENTITY, ""))
    return Told(content, who.initials, lambda _: identity, door())


def tell(recorded: Recorded) -> Answer:
    """Lead on to the page of the entry that was saved, or was saved before."""
    how = "again" if recorded.saved.again else "now"
    return redirect(url_for("entry.show", seq=recorded.saved.entry.seq, saved=how), 303)


def text(field: str) -> str | None:
    """What was typed into a field; None for nothing."""
    return request.form.get(field, "").strip() or None


def number(
    field: str, read: Callable[[str, str], Decimal], what: str, unit: str = ""
) -> Decimal | None:
    """A quantity as the shell reads it; None where nothing was typed.

    A bare number is in the ``unit`` that the field's label tells, if it tells one.

    Raises:
        InputError: it cannot be read.
    """
    typed = text(field)
    if typed is None:
        return None
    typed = plain_number(typed)
    return read(f"{typed}{unit}" if _BARE.fullmatch(typed) else typed, what)


def plain_number(typed: str) -> str:
    """What was typed, with a dot for a comma before one or two digits.

    Nobody writes thousands so.
    """
    return _COMMA.sub(r"\1.\2", typed)


def chosen(field: str, choices: Mapping[str, str], what: str) -> str:
    """One of the choices that a form offers.

    Raises:
        InputError: none of them was chosen.
    """
    word = request.form.get(field, "")
    if word not in choices:
        raise InputError(f"the {what} is not told", "choose one")
    return choices[word]


def happened(opened: Opened) -> datetime:
    """When it happened: as typed, else now."""
    typed = text("at")
    return opened.now if typed is None else opened.instant(typed, "time")
