"""A case begins and ends: two taps, and what follows."""

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, make_response, render_template
from werkzeug.wrappers import Response as Answer

from logbook.answers.equipment import known_machine
from logbook.answers.long_cases import ran_long
from logbook.answers.moment import moment_at
from logbook.answers.register import Register
from logbook.entries.case import CaseBegin, CaseEnd
from logbook.errors import InputError
from logbook.office.office import Opened
from logbook.office.taking_down import Content
from logbook.page.acting import chosen, happened, number, own_form, save, tell, text
from logbook.page.words import Refused, refusal
from logbook.page.world import heed, world
from logbook.projections.lookup import running_case
from logbook.times import duration_text
from logbook.units import parse_flow_ml_min, parse_mass_g, parse_percent
from logbook.vocabulary import CIRCUITS

routes = Blueprint("case", __name__)
POP_OFF: Mapping[str, bool | None] = {"open": True, "shut": False, "not seen": None}
"""What was seen of the pop-off valve, by the words on the page."""


@routes.get("/machine/<tag>/begin")
@own_form
def begin(tag: str) -> str:
    """Ask for the pop-off valve and the circuit."""
    return _begin_page(tag)


@routes.post("/machine/<tag>/begin")
def begin_now(tag: str) -> Answer:
    """Begin a case."""
    try:
        return tell(save(lambda opened: _begun(opened, tag)))
    except InputError as error:
        return make_response(_begin_page(tag, refusal(error)), 422)


def _begin_page(tag: str, refused: Refused | None = None) -> str:
    with world().office.reading(heed) as opened:
        known_machine(opened.connection, tag)
    return render_template("begin.html", tag=tag, refused=refused, circuits=CIRCUITS)


def _begun(opened: Opened, tag: str) -> Content:
    seen = text("pop_off") or ""
    if seen not in POP_OFF:
        raise InputError("it is not told how the pop-off valve was seen", "choose one")
    body = CaseBegin.of(
        machine=tag,
        circuit=chosen("circuit", CIRCUITS, "circuit"),
        pop_off_open=POP_OFF[seen],
        weight_g=number("weight", parse_mass_g, "weight"),
        species=text("species"),
        reference=text("reference"),
        segments=_settings(),
    )
    return body, happened(opened)


def _settings() -> list[dict[str, Any]]:
    """Flow and dial of the whole case, where they were told."""
    flow = number("flow", parse_flow_ml_min, "flow")
    dial = number("dial", parse_percent, "dial")
    if flow is None and dial is None:
        return []
    return [{"flow_ml_min": flow, "dial_percent": dial}]


@routes.get("/machine/<tag>/end")
@own_form
def end(tag: str) -> str:
    """Ask whether the case ends that runs there."""
    return _end_page(tag)


@routes.post("/machine/<tag>/end")
def end_now(tag: str) -> Answer:
    """End the case that runs on a machine."""
    try:
        return tell(save(lambda opened: _ended(opened, tag)))
    except InputError as error:
        return make_response(_end_page(tag, refusal(error)), 422)


def _end_page(tag: str, refused: Refused | None = None) -> str:
    with world().office.reading(heed) as opened:
        known_machine(opened.connection, tag)
        case = running_case(opened.connection, tag)
        now_s = int(opened.now.timestamp())
        running = duration_text(now_s - case.began_s) if case else None
        long = case is not None and _is_long(opened, tag, case.began_s, now_s)
    return render_template("end.html", tag=tag, refused=refused, running=running, long=long)


def _is_long(opened: Opened, tag: str, began_s: int, ended_s: int) -> bool:
    moment = moment_at(opened.now, opened.zone)
    register = Register(opened.connection, opened.clinic)
    return ran_long(register, moment, tag, began_s, ended_s - began_s) is not None


def _ended(opened: Opened, tag: str) -> Content:
    running = running_case(opened.connection, tag)
    if running is None:
        raise InputError(f"no case runs on {tag}", "look at its last entries")
    ended_at = happened(opened)
    ended_s = int(ended_at.timestamp())
    if text("so_long") is None and _is_long(opened, tag, running.began_s, ended_s):
        ran = duration_text(ended_s - running.began_s)
        raise InputError(f"it would have run {ran}", "tell when it ended, or that it ran so long")
    return CaseEnd.of(case_entry=running.entry, segments=_settings()), ended_at
