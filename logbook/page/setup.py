"""The numbers before connecting a patient: circuit, bag, flows, oxygen, agent, with cautions."""

from decimal import Decimal
from typing import Any, NamedTuple

from flask import Blueprint, make_response, render_template, request
from werkzeug.wrappers import Response as Answer

from logbook.answers.moment import moment_at
from logbook.answers.planning import plan_on
from logbook.arithmetic.setup import Patient
from logbook.errors import InputError
from logbook.office.office import Opened
from logbook.page.words import refusal
from logbook.page.world import heed, world
from logbook.projections.lookup import machine_views
from logbook.sheets.line import Lines
from logbook.sheets.setup_text import SetupSheet
from logbook.times import parse_duration_s
from logbook.units import parse_flow_ml_min, parse_mass_g, parse_percent
from logbook.vocabulary import SPECIES

routes = Blueprint("setup", __name__)


class Seen(NamedTuple):
    """The machines that can be named, and the numbers where a weight was told."""

    machines: list[str]
    lines: Lines


@routes.get("/setup")
def show() -> Answer:
    """Ask for a weight, and show the numbers under it; nothing is recorded."""
    with world().office.reading(heed) as opened:
        moment = moment_at(opened.now, opened.zone)
        views = machine_views(opened.connection, moment.at_s).values()
        machines = [view.machine for view in views if view.retired_s is None]
        try:
            seen, refused = Seen(machines, _numbers(opened)), None
        except InputError as error:
            seen, refused = Seen(machines, []), refusal(error)
    page = render_template("setup.html", seen=seen, refused=refused, species=SPECIES)
    return make_response(page, 422 if refused else 200)


def _numbers(opened: Opened) -> Lines:
    weight: Decimal | None = _told("weight", parse_mass_g, "weight")
    if weight is None:
        return []
    species = request.args.get("species") or None
    if species not in (None, *SPECIES):
        raise InputError("that species is not one that the weight is held against", "choose one")
    patient = Patient(weight, species)
    machine = request.args.get("machine") or None
    worked_out = plan_on(
        opened.connection,
        moment_at(opened.now, opened.zone),
        machine,
        patient,
        _told("planned", parse_duration_s, "planned time"),
        dial_percent=_told("dial", parse_percent, "dial"),
        flow_ml_min=_told("flow", parse_flow_ml_min, "flow"),
    )
    return SetupSheet.of(machine, worked_out, weight).lines()


def _told(field: str, read: Any, what: str) -> Any:
    """What was typed, read as the shell reads it; None for nothing."""
    typed = request.args.get(field, "").strip()
    return read(typed, what) if typed else None
