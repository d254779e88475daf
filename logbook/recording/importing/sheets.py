"""What the rows of each kind of file mean: its columns, how each is read, and the entry."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection

from logbook.checklists.model import PAPER
from logbook.entries.base import Body
from logbook.entries.case import Case
from logbook.entries.check import Check
from logbook.entries.fault import STOPPING, Fault
from logbook.entries.service import Service
from logbook.entries.supplies import (
    AbsorbentChange,
    AgentFill,
    AgentLevel,
    CharcoalChange,
    CylinderChange,
    OxygenReading,
)
from logbook.entries.vaporizer import VaporizerFitting, VaporizerRemoval
from logbook.errors import InputError
from logbook.recording.importing.cells import (
    BY,
    FLOW,
    GAUGE,
    MASS,
    PERCENT,
    PIPELINE,
    SMALL,
    TAG,
    TEXT,
    VOLUME,
    Cells,
    Reader,
)
from logbook.recording.importing.returns import returned
from logbook.recording.importing.values import Content, Values
from logbook.units import shown


@dataclass(frozen=True, slots=True)
class Sheet:
    """A kind of file: its columns with how each is read, those that are needed, and what the
    values of a row mean, by themselves or with what the ledger holds."""

    columns: dict[str, Reader]
    needed: tuple[str, ...]
    content: Callable[[Values, Connection], Content]


def _by_itself(content: Callable[[Values], Content]) -> Callable[[Values, Connection], Content]:
    """What a row means whatever the ledger holds."""
    return lambda told, _: content(told)


def _case(told: Values) -> Content:
    began_at, flow, dial = told["began"], told.get("flow"), told.get("dial")
    settings = [] if flow is dial is None else [{"flow_ml_min": flow, "dial_percent": dial}]
    case = Case.of(
        machine=told["machine"],
        ended_at=_ended_at(told, began_at),
        circuit=told.get("circuit", "unknown"),
        weight_g=told.get("weight"),
        species=told.get("species"),
        vaporizer=told.get("vaporizer"),
        segments=settings,
        reference=told.get("reference"),
    )
    return case, began_at


def _ended_at(told: Values, began_at: datetime) -> datetime:
    """The end as a time, or as the length of the case."""
    ended: datetime | None = told.get("ended")
    ran_s: int | None = told.get("ran")
    if (ended is None) == (ran_s is None):
        raise InputError("it needs either ended or ran, so that the end is known")
    return ended or began_at + timedelta(seconds=ran_s or 0)


_CHANGES: dict[str, tuple[tuple[str, ...], Callable[[Values], Body]]] = {
    "absorbent": (
        ("mass", "lot", "expiry", "old", "reason"),
        lambda told: AbsorbentChange.of(
            machine=told["machine"],
            mass_g=told.get("mass"),
            lot=told.get("lot"),
            expiry=told.get("expiry"),
            old_granules=told.get("old"),
            reason=told.get("reason"),
        ),
    ),
    "charcoal": (
        ("mass",),
        lambda told: CharcoalChange.of(machine=told["machine"], weight_g=told.get("mass")),
    ),
    "cylinder": (
        ("size", "gauge"),
        lambda told: CylinderChange.of(
            machine=told["machine"], cylinder_psi=told.get("gauge"), **_size(told.get("size"))
        ),
    ),
}
"""What can be changed, with the columns that say something about it."""


def _size(text: str | None) -> Values:
    """A cylinder by its letter, or by its water volume such as ``4.7L``."""
    if text is not None and text.endswith("L"):
        return {"water_l": text.removesuffix("L").strip()}
    return {"size": text}


def _change(told: Values) -> Content:
    what = told["what"]
    columns, body = _CHANGES[what]
    for name in told:
        if name not in ("machine", "at", "what", "by", *columns):
            raise InputError(f"{name} says nothing about {what}", "leave the cell empty")
    return body(told), told["at"]


def _service(told: Values) -> Content:
    service = Service.of(
        unit=told["unit"],
        item=told["item"],
        outcome=told["outcome"],
        done_by=told.get("done_by"),
        certificate=told.get("certificate"),
    )
    return service, told["at"]


_RESULTS = {
    **dict.fromkeys(("passed", "pass", "ok", "yes", "good"), "passed"),
    **dict.fromkeys(("failed", "fail", "no", "bad"), "failed"),
}
"""What stands on paper sheets for the result of a check."""


def _result(cells: Cells, name: str) -> str:
    word = cells.small(name)
    if word not in _RESULTS:
        raise InputError(f"{name} {shown(cells.text(name))} is not known", "write passed or failed")
    return _RESULTS[word]


def _check(told: Values) -> Content:
    """A check on paper: its result, and nothing of its items. A failed one takes no machine out of
    service today: what became of it then is told by a fault or a later check."""
    answer = {"item": PAPER, "state": told["result"], "reason": told.get("reason")}
    check = Check.of(
        machine=told["machine"],
        checklist=told.get("list", "daily"),
        version=1,
        answers=[answer],
        paper=True,
    )
    return check, told["at"]


def _fill(told: Values) -> Content:
    fill = AgentFill.of(
        vaporizer=told["vaporizer"],
        added_ml=told.get("added"),
        level_ml=told.get("level"),
        lot=told.get("lot"),
    )
    return fill, told["at"]


def _level(told: Values) -> Content:
    return AgentLevel.of(vaporizer=told["vaporizer"], level_ml=told["level"]), told["at"]


def _oxygen(told: Values) -> Content:
    reading = OxygenReading.of(
        machine=told["machine"],
        cylinder_psi=told.get("cylinder"),
        pipeline_psi=told.get("pipeline"),
    )
    return reading, told["at"]


def _fault(told: Values) -> Content:
    stops = told.get("out", told["what"] in STOPPING)
    fault = Fault.of(unit=told["unit"], what=told["what"], detail=told.get("detail"), stops=stops)
    return fault, told["at"]


def _fitting(told: Values) -> Content:
    vaporizer, machine = told["vaporizer"], told.get("machine")
    if machine is None:
        removal = VaporizerRemoval.of(vaporizer=vaporizer, reason=told.get("reason"))
        return removal, told["at"]
    return VaporizerFitting.of(vaporizer=vaporizer, machine=machine), told["at"]


_AT: dict[str, Reader] = {"at": Cells.moment}
_BY: dict[str, Reader] = {"by": BY}
SHEETS: dict[str, Sheet] = {
    "cases": Sheet(
        {
            "machine": TAG, "began": Cells.instant, "ended": Cells.ending, "ran": Cells.lasting,
            "circuit": Cells.circuit, "weight": MASS, "species": TEXT, "vaporizer": TAG,
            "flow": FLOW, "dial": PERCENT, "reference": TEXT, **_BY,
        },
        ("machine", "began"),
        _by_itself(_case),
    ),
    "changes": Sheet(
        {
            "machine": TAG, **_AT, "what": lambda cells, name: cells.one_of(name, _CHANGES),
            "mass": MASS, "lot": TEXT, "expiry": Cells.day, "old": TEXT, "size": Cells.capitals,
            "gauge": GAUGE, "reason": TEXT, **_BY,
        },
        ("machine", "at", "what"),
        _by_itself(_change),
    ),
    "services": Sheet(
        {
            "unit": TAG, "item": TEXT, **_AT, "outcome": SMALL, "done_by": TEXT,
            "certificate": TEXT, **_BY,
        },
        ("unit", "item", "at", "outcome"),
        _by_itself(_service),
    ),
    "checks": Sheet(
        {
            "machine": TAG, **_AT,
            "result": _result,
            "list": SMALL, "reason": TEXT, **_BY,
        },
        ("machine", "at", "result"),
        _by_itself(_check),
    ),
    "fills": Sheet(
        {"vaporizer": TAG, **_AT, "added": VOLUME, "level": VOLUME, "lot": TEXT, **_BY},
        ("vaporizer", "at"),
        _by_itself(_fill),
    ),
    "levels": Sheet(
        {"vaporizer": TAG, **_AT, "level": VOLUME, **_BY},
        ("vaporizer", "at", "level"),
        _by_itself(_level),
    ),
    "oxygen": Sheet(
        {"machine": TAG, **_AT, "cylinder": GAUGE, "pipeline": PIPELINE, **_BY},
        ("machine", "at"),
        _by_itself(_oxygen),
    ),
    "faults": Sheet(
        {
            "unit": TAG, **_AT, "what": SMALL, "detail": TEXT, "out": Cells.yes_or_no, **_BY,
        },
        ("unit", "at", "what"),
        _by_itself(_fault),
    ),
    "returns": Sheet(
        {"unit": TAG, **_AT, "certificate": TEXT, "remark": TEXT, **_BY},
        ("unit", "at"),
        returned,
    ),
    "fittings": Sheet(
        {"vaporizer": TAG, **_AT, "machine": TAG, "reason": TEXT, **_BY},
        ("vaporizer", "at"),
        _by_itself(_fitting),
    ),
}  # fmt: skip
"""Every kind of file by its name."""
