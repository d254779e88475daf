"""The limits in force, each with its source; a lead sets another value, with the reason."""

from typing import NamedTuple

from flask import Blueprint, abort, make_response, render_template
from werkzeug.wrappers import Response as Answer

from logbook.answers.moment import moment_at
from logbook.answers.rules import InForce, rules_set
from logbook.entries.book import RuleChange
from logbook.errors import InputError
from logbook.limits import LIMITS
from logbook.office.office import Opened
from logbook.office.taking_down import Content
from logbook.page.acting import lead_alone, number, own_form, save, tell, text
from logbook.page.words import Refused, refusal
from logbook.page.world import ask, heed, world
from logbook.projections.lookup import machine_views
from logbook.sheets.sentences import YES_OR_NO, limit_value
from logbook.units import parse_decimal

routes = Blueprint("rules", __name__)


class Row(NamedTuple):
    """A limit as it counts, for the clinic or for one machine, and its value in words."""

    rule: InForce
    value: str


@routes.get("/rules")
def show() -> str:
    """Every limit, what it says, and where it comes from."""
    return render_template("rules.html", rows=ask(("rules",), _rows))


@routes.get("/rules/<limit>")
@own_form
def change(limit: str) -> str:
    """The form for another value."""
    return _form(limit)


@routes.post("/rules/<limit>")
def set_value(limit: str) -> Answer:
    """Record another value."""
    _known(limit)
    lead_alone()
    try:
        return tell(save(lambda opened: _told(opened, limit)))
    except InputError as error:
        return make_response(_form(limit, refusal(error)), 422)


def _rows(opened: Opened) -> list[Row]:
    at_s = moment_at(opened.now, opened.zone).at_s
    found = rules_set(opened.connection, at_s)
    return [Row(one, limit_value(one.value, one.unit)) for one in found]


def _form(limit: str, refused: Refused | None = None) -> str:
    _known(limit)
    with world().office.reading(heed) as opened:
        rows = [row for row in _rows(opened) if row.rule.limit == limit]
        machines = list(machine_views(opened.connection, int(opened.now.timestamp())))
    return render_template(
        "rule.html", limit=LIMITS[limit], name=limit, rows=rows, machines=machines,
        is_yes_or_no=LIMITS[limit].unit == YES_OR_NO, refused=refused,
    )  # fmt: skip


def _known(limit: str) -> None:
    if limit not in LIMITS:
        abort(404)


def _told(opened: Opened, limit: str) -> Content:
    body = RuleChange.of(
        limit=limit,
        value=number("value", parse_decimal, "value"),
        machine=text("machine"),
        reason=text("reason"),
        source=text("source"),
    )
    return body, opened.now
