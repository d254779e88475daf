"""The small acts at a machine or vaporizer: each is a form of a few fields, and one entry."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NamedTuple

from flask import Blueprint, abort, make_response, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from logbook.answers.equipment import known_machine, known_vaporizer
from logbook.answers.history import entry_line
from logbook.answers.item import ask as items_asked
from logbook.answers.moment import moment_at
from logbook.arithmetic.calendar import rhythm_of
from logbook.entries.base import Body
from logbook.entries.book import Note
from logbook.entries.fault import Fault, ReturnToService
from logbook.entries.service import ServicePlan
from logbook.entries.supplies import (
    AbsorbentChange,
    AgentFill,
    AgentLevel,
    CharcoalChange,
    CharcoalWeight,
    CylinderChange,
    OxygenReading,
)
from logbook.entries.vaporizer import VaporizerFitting, VaporizerRemoval
from logbook.errors import InputError
from logbook.office.office import Opened
from logbook.office.taking_down import Content
from logbook.page.acting import happened, lead_alone, number, own_form, save, tell, text
from logbook.page.scanned import Package, read_package
from logbook.page.words import Refused, refusal
from logbook.page.world import heed, world
from logbook.projections.lookup import machine_views
from logbook.sheets.sentences import sentence
from logbook.units import (
    parse_decimal,
    parse_mass_g,
    parse_pipeline_psi,
    parse_pressure_psi,
    parse_volume_ml,
    shown,
)
from logbook.vocabulary import (
    ABSORBENT_KINDS,
    CYLINDER_SIZES,
    FAULTS,
    absorbent_words,
    size_words,
)

routes = Blueprint("acts", __name__)
Choices = Mapping[str, str]
"""What a field lets choose: the label of each value."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A field of a form: its name in the entry, its label, and how what was typed is read.

    ``choices`` answers the values that there are for a unit, by what stands in the ledger; where
    there is none, ``none`` says so.
    """

    name: str
    label: str
    read: Callable[[Opened, "Asked"], Any]
    hint: str = ""
    mode: str = "text"
    choices: Callable[[Opened, str], Choices] | None = None
    none: str = ""
    needed: bool = True
    """Whether one of the ``choices`` must be taken."""


def _words(_: Opened, asked: Asked) -> str | None:
    return text(asked.name)


def _day(opened: Opened, asked: Asked) -> Any:
    typed = text(asked.name)
    return opened.day(typed, asked.label.lower()) if typed else None


def _chosen(opened: Opened, asked: Asked) -> str | None:
    typed = text(asked.name)
    there = asked.choices(opened, _tag()) if asked.choices else {}
    if typed is not None and typed not in there:
        raise InputError(f"{asked.label.lower()} {shown(typed)} is none of the choices")
    return typed


def _entry(opened: Opened, asked: Asked) -> int | None:
    chosen = _chosen(opened, asked)
    return None if chosen is None else int(chosen)


def _tag() -> str:
    """The unit of the form at hand."""
    return str((request.view_args or {})["tag"])


def _whole(_: Opened, asked: Asked) -> int | None:
    typed = text(asked.name)
    if typed is None:
        return None
    if not typed.isascii() or not typed.isdigit() or len(typed) > 12:
        raise InputError(f"{asked.label.lower()} {shown(typed)} is no whole number")
    return int(typed)


def _yes(_: Opened, asked: Asked) -> bool:
    return text(asked.name) is not None


def _rhythm(_: Opened, asked: Asked) -> str | None:
    typed = text(asked.name)
    return rhythm_of(typed) if typed else None


def _hours(_: Opened, asked: Asked) -> Any:
    return number(asked.name, parse_decimal, asked.label.lower())


def _amount(name: str, label: str, unit: str, read: Any, hint: str = "") -> Asked:
    """A quantity; a bare number is in the unit that stands in the label."""

    def quantity(_: Opened, asked: Asked) -> Any:
        return number(asked.name, read, label.lower(), unit)

    return Asked(name, f"{label} ({unit})", quantity, hint, mode="decimal")


def _machines(opened: Opened, _: str) -> Choices:
    return {tag: tag for tag in machine_views(opened.connection, int(opened.now.timestamp()))}


def _faults(_: Opened, __: str) -> Choices:
    return {what: what for what in FAULTS}


def _sizes(_: Opened, __: str) -> Choices:
    return {size: size_words(size) for size in CYLINDER_SIZES}


def _evidence(opened: Opened, tag: str) -> Choices:
    """What was recorded since the unit went out of service and can bring it back, newest first."""
    moment = moment_at(opened.now, opened.zone)
    found = items_asked(opened.connection, moment).known.evidence.get(tag, [])
    lines = [entry_line(opened.connection, seq) for seq in found]
    return {
        str(
            one.entry.seq
        ): f"Entry {one.entry.seq}: {sentence(one.now_says or one.entry, opened.zone)}"
        for one in lines
    }


def _litres(typed: str, what: str) -> Decimal:
    return parse_volume_ml(typed, what) / 1000


def _kinds(_: Opened, __: str) -> Choices:
    return {kind: absorbent_words(kind) for kind in ABSORBENT_KINDS}


WEIGHT = _amount("weight_g", "Weight of the canister", "g", parse_mass_g)
WATER = _amount("water_l", "Or the water volume stamped on it", "L", _litres)
NUMBER = Asked(
    "number", "Which cylinder", _whole, "Of several, counted from 1; else the first", mode="numeric"
)
CYLINDER = _amount("cylinder_psi", "Cylinder gauge", "psi", parse_pressure_psi)
LEVEL = _amount("level_ml", "Level at the sight glass", "mL", parse_volume_ml)
LOT = Asked("lot", "Lot", _words)
EXPIRY = Asked("expiry", "Expires", _day, "Such as 2027-06-30")
SCAN = "scan"
"""The field into which a scanner types what stands on a package; it stands where a lot does."""


@dataclass(frozen=True, slots=True)
class Act:
    """What can be recorded: its words, the field that names the unit, its fields and its entry."""

    words: str
    about: str
    fields: tuple[Asked, ...]
    make: Callable[..., Body]
    lead: bool = False
    """Whether a lead alone records it."""

    @property
    def scans(self) -> bool:
        """Whether a package tells something of it."""
        return LOT in self.fields


class Filled(NamedTuple):
    """What was read from a package, and whether it has expired already."""

    package: Package
    is_old: bool

    @property
    def fields(self) -> Mapping[str, str]:
        """What it puts into the fields of a form."""
        told = {LOT.name: self.package.lot, EXPIRY.name: self.package.expiry}
        return {name: str(value) for name, value in told.items() if value is not None}


FAULT = Act(
    "Report a fault",
    "unit",
    (
        Asked("what", "What happened", _chosen, choices=_faults),
        Asked("detail", "What was seen", _words),
        Asked("take_out", "Take it out of service", _yes, mode="yes"),
    ),
    Fault.reported,
)
NO_EVIDENCE = (
    "Nothing is recorded since that could bring it back: a machine comes back on a passed check or "
    "service, a vaporizer on a passed output verification."
)
BACK = Act(
    "Return to service",
    "unit",
    (
        Asked("evidence_entry", "What passed since", _entry, choices=_evidence, none=NO_EVIDENCE),
        Asked("remark", "Remark", _words),
    ),
    ReturnToService.of,
    lead=True,
)
PLAN = Act(
    "Plan a service",
    "unit",
    (
        Asked("item", "What is to be done", _words, "Such as service, or output verification"),
        Asked("every", "How often", _rhythm, "Such as 12 months"),
        Asked("run_hours", "Or after so many hours of use (h)", _hours, mode="decimal"),
        Asked("last", "Last done", _day, "Such as 2026-01-31"),
        Asked("source", "Who says so", _words, "The maker's instructions, a local rule"),
    ),
    ServicePlan.of,
    lead=True,
)
NOTE = Act("Write a note", "unit", (Asked("text", "Note", _words),), Note.of)
OF_MACHINE: dict[str, Act] = {
    "absorbent": Act(
        "Absorbent changed",
        "machine",
        (
            _amount("mass_g", "New charge", "g", parse_mass_g),
            LOT,
            EXPIRY,
            Asked(
                "absorbent_kind",
                "Kind, where it is not the usual one",
                _chosen,
                choices=_kinds,
                needed=False,
            ),
            Asked("old_granules", "What the old granules were like", _words),
            Asked("reason", "Why it was changed", _words),
        ),
        AbsorbentChange.of,
    ),
    "oxygen": Act(
        "Read the oxygen gauges",
        "machine",
        (
            CYLINDER,
            NUMBER,
            _amount("pipeline_psi", "Pipeline gauge", "psi", parse_pipeline_psi),
        ),
        OxygenReading.of,
    ),
    "cylinder": Act(
        "Oxygen cylinder changed",
        "machine",
        (
            Asked("size", "Size", _chosen, choices=_sizes, needed=False),
            WATER,
            CYLINDER,
            NUMBER,
        ),
        CylinderChange.of,
    ),
    "charcoal": Act("Charcoal canister changed", "machine", (WEIGHT,), CharcoalChange.of),
    "charcoal-weight": Act("Weigh the charcoal canister", "machine", (WEIGHT,), CharcoalWeight.of),
    "fault": FAULT,
    "note": NOTE,
    "back": BACK,
    "plan": PLAN,
}
"""By the last part of the address, in the order of the machine's page."""
OF_VAPORIZER: dict[str, Act] = {
    "fill": Act(
        "Vaporizer filled",
        "vaporizer",
        (LEVEL, _amount("added_ml", "Poured in", "mL", parse_volume_ml), LOT, EXPIRY),
        AgentFill.of,
    ),
    "level": Act("Read the level", "vaporizer", (LEVEL,), AgentLevel.of),
    "fit": Act(
        "Fit it to a machine",
        "vaporizer",
        (Asked("machine", "Machine", _chosen, choices=_machines),),
        VaporizerFitting.of,
    ),
    "remove": Act(
        "Take it off its machine",
        "vaporizer",
        (Asked("reason", "Why it comes off", _words),),
        VaporizerRemoval.of,
    ),
    "fault": FAULT,
    "note": NOTE,
    "back": BACK,
    "plan": PLAN,
}
EVERY = {"machine": OF_MACHINE, "vaporizer": OF_VAPORIZER}


@routes.get("/<any(machine, vaporizer):noun>/<tag>/<act>")
@own_form
def ask(noun: str, tag: str, act: str) -> str:
    """The form of an act."""
    return _form(noun, tag, _act(noun, act))


@routes.post("/<any(machine, vaporizer):noun>/<tag>/<act>")
def do(noun: str, tag: str, act: str) -> Answer:
    """Record an act."""
    found = _act(noun, act)
    if found.lead:
        lead_alone()
    try:
        if found.scans and (typed := text(SCAN)) is not None:
            return make_response(_form(noun, tag, found, package=_package(typed)))
        return tell(save(lambda opened: _content(opened, tag, found)))
    except InputError as error:
        return make_response(_form(noun, tag, found, refusal(error)), 422)


def links(noun: str, tag: str) -> list[tuple[str, str]]:
    """The words of each act at a unit, and the address of its form."""
    return [
        (act.words, url_for("acts.ask", noun=noun, tag=tag, act=name))
        for name, act in EVERY[noun].items()
    ]


def _act(noun: str, name: str) -> Act:
    if name not in EVERY[noun]:
        abort(404)
    return EVERY[noun][name]


def _package(typed: str) -> Filled:
    """What a scanner typed fills the form; nothing is saved before a person has looked at it."""
    with world().office.reading(heed) as opened:
        today = moment_at(opened.now, opened.zone).day
    found = read_package(typed, today)
    return Filled(found, is_old=found.expiry is not None and found.expiry < today)


def _form(
    noun: str, tag: str, act: Act, refused: Refused | None = None, package: Filled | None = None
) -> str:
    with world().office.reading(heed) as opened:
        _known(opened, noun, tag)
        choices = {one.name: one.choices(opened, tag) for one in act.fields if one.choices}
    return render_template(
        "act.html", noun=noun, tag=tag, act=act, choices=choices, refused=refused, package=package
    )


def _known(opened: Opened, noun: str, tag: str) -> None:
    known = known_machine if noun == "machine" else known_vaporizer
    known(opened.connection, tag)


def _content(opened: Opened, tag: str, act: Act) -> Content:
    read = {one.name: one.read(opened, one) for one in act.fields}
    told = {name: value for name, value in read.items() if value is not None}
    body = act.make(**{act.about: tag}, **told)
    return body, happened(opened)
