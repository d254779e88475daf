"""One entry: what it says, what became of it, and what follows from it."""

from typing import NamedTuple

from flask import Blueprint, render_template, request, url_for

from logbook.answers.consequence import Consequence, ItemFailed
from logbook.answers.consequences import consequences
from logbook.answers.history import entry_line
from logbook.answers.moment import moment_at
from logbook.answers.register import Register
from logbook.entries.check import Check
from logbook.ledger.store import Entry, read_entry
from logbook.office.office import Opened
from logbook.page.words import leads_on
from logbook.page.world import ask
from logbook.projections.project import NEVER_CORRECTED
from logbook.sheets.consequences import consequence_text
from logbook.sheets.history_text import HistoryEntry
from logbook.sheets.recorded_text import recorded_marks

routes = Blueprint("entry", __name__)


class Follows(NamedTuple):
    """What follows, and where a page lets a person do something about it."""

    sentence: str
    link: str
    words: str
    first: bool
    """Whether it is said before what was saved."""


class Seen(NamedTuple):
    """An entry as its page shows it."""

    entry: HistoryEntry
    machine: str | None
    marks: list[str]
    follows: list[Follows]
    correctable: bool


@routes.get("/entry/<int(max=999999999999):seq>")
def show(seq: int) -> str:
    """What an entry says; ``saved`` tells that it was just recorded, or was recorded before."""
    how = request.args.get("saved", "")
    seen = ask(("entry", seq), lambda opened: _seen(opened, seq))
    return render_template("entry.html", seen=seen, how=how)


def _seen(opened: Opened, seq: int) -> Seen:
    line = entry_line(opened.connection, seq)
    moment = moment_at(opened.now, opened.zone)
    register = Register(opened.connection, opened.clinic)
    follows = consequences(register, line.entry, moment)
    return Seen(
        HistoryEntry.of(line, opened.zone),
        _machine(opened, line.entry),
        list(recorded_marks(line.recorded)),
        [_follows(opened, line.entry, one) for one in follows],
        line.entry.kind not in NEVER_CORRECTED and line.state != "withdrawn",
    )


def _machine(opened: Opened, entry: Entry) -> str | None:
    """The machine to which an entry's page leads back; the end of a case names its begin alone."""
    begun = getattr(entry.body, "case_entry", None)
    of = read_entry(opened.connection, begun) if begun else entry
    return of.body.names().get("machine") if of else None


def _follows(opened: Opened, entry: Entry, one: Consequence) -> Follows:
    """A sentence that its act leaves open ends here."""
    sentence = f"{consequence_text(one, opened.zone).rstrip('.')}."
    if isinstance(one, ItemFailed) and isinstance(entry.body, Check):
        tag, name, key = entry.body.machine, entry.body.checklist, one.answer.item
        again = url_for("check.item", tag=tag, name=name, key=key, again=1)
        return Follows(sentence, again, "Do it again", one.first)
    words, link = leads_on(one.act, one.about)
    return Follows(sentence, link, words, one.first)
