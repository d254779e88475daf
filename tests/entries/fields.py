"""Every field of every kind of entry, found in the models themselves, and a body that fills it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, get_args, get_type_hints

from logbook.entries import KINDS, model
from logbook.entries.base import Part
from tests.ledger.weeks import LIST

Loc = tuple[str | int, ...]
SEGMENT = {"duration_s": 600, "flow_ml_min": "1000", "dial_percent": "2"}
JUDGEMENT = {"limit": "leak-flow", "low": "0", "high": "200", "unit": "mL/min"}
ANSWER = {
    "item": "leak", "state": "passed", "value": "150", "unit": "mL/min", "held_s": 12,
    "choice": "white", "reason": "seen", "stops": False, "absorbent_due": False,
    "reads": "cylinder", "number": 2, "tests": "leak", "timed": True, "at": "2026-03-02T14:10:00Z",
    "by": "KO", "counted": "7.25", "pressure_cmh2o": "30", "end_pressure_cmh2o": "29",
    "leak_ml_min": "150",
    "judgement": JUDGEMENT | {"pressure_cmh2o": "30"},
}  # fmt: skip
CASE = {
    "machine": "bay1", "circuit": "adult rebreathing", "weight_g": "24000", "species": "dog",
    "vaporizer": "iso1", "segments": [SEGMENT], "reference": "17",
    "reference_digest": "0f" * 32,
}  # fmt: skip
MACHINE = {
    "machine": "bay1", "serial": "M-1", "location": "room 1", "absorbent_g": "1200",
    "scavenging": "charcoal", "flowmeter_max_ml_min": "4000", "flowmeter_min_ml_min": "200",
    "pipeline": True, "cylinders": ["E", "4.7L"], "oxygen_flush": True, "second_gas": False,
    "oxygen_alarm": True, "oxygen_monitor": False, "powered": True, "ventilator": False,
    "suction": True, "vaporizer_places": 2, "interlock": True, "suction_bulb": False,
    "circuits": ["adult rebreathing", "non-rebreathing"], "coaxial": False,
    "absorbent_kind": "soda-lime", "hours_label": True, "relief_valve": True,
    "relief_valve_cmh2o": "60", "leak_test_first": "timed", "compliance_ml_cmh2o": "3.5",
}  # fmt: skip
HASH = "0f" * 32
FULL: dict[str, dict[str, Any]] = {
    "clinic": {
        "name": "Alder Creek", "timezone": "America/Denver", "listing_day": "friday",
        "country": "US", "date_order": "month/day", "altitude_m": "1600", "ambient_kpa": "83.4",
        "since": "2026-01-12",
        "reason": "the old file was lost",
    },
    "staff": {"initials": "KO"},
    "machine": MACHINE,
    "machine_change": MACHINE | {"reason": "moved"},
    "machine_retirement": {"machine": "bay1", "reason": "sold"},
    "vaporizer": {
        "vaporizer": "iso1", "agent": "isoflurane", "serial": "V-1", "capacity_ml": "250",
        "low_mark_ml": "25", "design": "variable-bypass",
    },
    "vaporizer_fitting": {"vaporizer": "iso1", "machine": "bay1"},
    "vaporizer_removal": {"vaporizer": "iso1", "reason": "service"},
    "check": {
        "machine": "bay1", "checklist": "daily", "version": 1, "paper": True,
        "begun": "2026-03-02T14:00:00Z",
        "again_of": 7,
        "answers": [ANSWER | {"carried": True}, {"item": "hoses", "state": "passed"}],
    },
    "checklist": {"checklist": "monthly-hoses", "version": 1, "text": LIST},
    "case": CASE | {"ended_at": "2026-03-02T16:45:00Z"},
    "case_begin": CASE | {"pop_off_open": True},
    "case_end": {"case_entry": 7, "segments": [SEGMENT]},
    "absorbent_change": {
        "machine": "bay1", "lot": "L1", "expiry": "2027-01-31", "mass_g": "1200",
        "absorbent_kind": "soda-lime", "old_granules": "violet", "reason": "due",
    },
    "agent_fill": {
        "vaporizer": "iso1", "added_ml": "100", "level_ml": "240", "lot": "L2",
        "expiry": "2027-06-30",
    },
    "agent_level": {"vaporizer": "iso1", "level_ml": "180"},
    "oxygen_reading": {
        "machine": "bay1", "cylinder_psi": "1500", "pipeline_psi": "50", "number": 1,
    },
    "cylinder_change": {
        "machine": "bay1", "size": "E", "water_l": "4.7", "cylinder_psi": "1900", "number": 1,
    },
    "charcoal_change": {"machine": "bay1", "weight_g": "210"},
    "charcoal_weight": {"machine": "bay1", "weight_g": "230"},
    "service_plan": {
        "unit": "bay1", "item": "service", "every": "P12M", "run_hours": "500",
        "last": "2026-01-05", "source": "the maker",
    },
    "service": {
        "unit": "iso1", "item": "output verification", "outcome": "passed", "done_by": "engineer",
        "certificate": "C-1", "certificate_sha256": "ab" * 32, "tolerance_percent": "15",
        "outputs": [{"dial_percent": "2", "measured_percent": "2.1"}],
    },
    "output_verification": {
        "vaporizer": "iso1", "outcome": "passed", "done_by": "engineer", "certificate": "C-1",
        "certificate_sha256": "ab" * 32,
        "outputs": [{"dial_percent": "2", "measured_percent": "2.1"}],
        "tolerance_percent": "15", "tolerance_least_percent": "0.05",
        "design": "variable-bypass", "ambient_kpa": "101.3", "analyser": "A-12",
        "temperature_c": "21", "carrier_gas": "oxygen",
    },
    "fault": {"unit": "bay1", "what": "leak", "detail": "hiss", "stops": True},
    "fault_close": {"unit": "bay1", "fault_entry": 7, "reason": "new hose"},
    "return_to_service": {"unit": "bay1", "evidence_entry": 7, "remark": "dry"},
    "rule_change": {
        "limit": "leak-flow", "value": "150", "machine": "bay1", "reason": "warm", "source": "own",
    },
    "correction": {
        "corrects": 7, "withdrawn": False, "happened_at": "2026-03-02T15:00:00Z",
        "body": {"text": "x"}, "by": "RT", "reason": "slip",
    },
    "restore": {
        "from_entries": 3, "from_head": HASH, "lost_entries": 1, "lost_head": HASH,
        "reason": "disk died",
    },
    "note": {"unit": "bay1", "text": "late"},
}  # fmt: skip
FULL = {kind: body | {"door": {"name": "page", "device": "wall"}} for kind, body in FULL.items()}
"""For each kind, a body that fits and leaves no field out."""


@dataclass(frozen=True)
class Field:
    """A field: its kind, where it stands in the body, and all that its annotation holds."""

    kind: str
    loc: Loc
    annotation: Any

    def __str__(self) -> str:
        return f"{self.kind}:{'.'.join(str(part) for part in self.loc)}"

    def body_with(self, value: Any) -> dict[str, Any]:
        """The full body with another value in this field."""
        return _put(FULL[self.kind], self.loc, value)

    def constraints(self) -> Iterator[Any]:
        """What stands beside the type, also within ``X | None`` and pydantic's own ``Field``."""
        yield from _beside(self.annotation)


def _beside(annotation: Any) -> Iterator[Any]:
    for one in getattr(annotation, "__metadata__", ()):
        yield from getattr(one, "metadata", [one])
    for inner in get_args(annotation)[: 1 if hasattr(annotation, "__metadata__") else None]:
        yield from _beside(inner)


def _put(body: Any, loc: Loc, value: Any) -> Any:
    if not loc:
        return value
    if isinstance(body, list):
        return [_put(one, loc[1:], value) if at == loc[0] else one for at, one in enumerate(body)]
    return {**body, loc[0]: _put(body.get(loc[0]), loc[1:], value)}


def _parts(annotation: Any) -> Iterator[tuple[Loc, type[Part]]]:
    """The parts that an annotation holds: one alone, or the first of several."""
    if isinstance(annotation, type) and issubclass(annotation, Part):
        yield (), annotation
    deeper = (0,) if getattr(annotation, "__origin__", None) is tuple else ()
    for inner in get_args(annotation):
        for loc, part in _parts(inner):
            yield (*deeper, *loc), part


def _words_of(annotation: Any) -> Any:
    """What stands in a tuple of words, such as the sizes of cylinders; None for all else."""
    for one in (annotation, *get_args(annotation)):
        if getattr(one, "__origin__", None) is tuple and not [*_parts(one)]:
            return get_args(one)[0]
    return None


def _fields_of(kind: str, part: type[Part], at: Loc = ()) -> Iterator[Field]:
    hints = get_type_hints(part, include_extras=True)
    for name in part.model_fields:
        words = _words_of(hints[name])
        yield Field(kind, (*at, name), hints[name] if words is None else tuple)
        if words is not None:
            yield Field(kind, (*at, name, 0), words)
        for loc, inner in _parts(hints[name]):
            yield from _fields_of(kind, inner, (*at, name, *loc))


FIELDS = [field for kind in KINDS for field in _fields_of(kind, model(kind))]
"""Every field of every kind, those of its parts too."""
