"""What a machine is and has, in words: in its own sheet, and where an entry tells of it."""

from typing import TYPE_CHECKING, Any

from logbook.units import format_decimal
from logbook.vocabulary import size_words

if TYPE_CHECKING:
    from logbook.checklists.profile import Profile
    from logbook.entries.machine import Machine, MachineChange

PARTS = {
    "pipeline": "pipeline",
    "oxygen_flush": "oxygen flush",
    "second_gas": "second gas",
    "oxygen_alarm": "oxygen-failure alarm",
    "oxygen_monitor": "oxygen monitor",
    "powered": "mains power or battery",
    "ventilator": "ventilator",
    "suction": "suction",
    "interlock": "interlock",
    "suction_bulb": "suction bulb",
    "coaxial": "coaxial circuit",
    "hours_label": "hours on the canister's label",
    "relief_valve": "safety relief valve",
}
"""The parts that a machine has or lacks, by the field that says so."""


def parts(told: "Profile | Machine | MachineChange", there: bool | None) -> str | None:
    """The parts that are there, that are not, or (None) that nobody told of; None for none."""
    names = [name for field, name in PARTS.items() if getattr(told, field) is there]
    return ", ".join(names) or None


def quantities(told: "Profile | Machine | MachineChange") -> dict[str, str | None]:
    """What has more to say than yes or no, by its name; None where nothing was told."""
    cylinders, circuits = told.cylinders, told.circuits
    kind = told.absorbent_kind
    charge = [
        _amount(told.absorbent_g, "g"),
        None if kind is None else "kind unknown" if kind == "unknown" else kind.replace("-", " "),
    ]
    return {
        "oxygen cylinders": None if cylinders is None else _cylinders(cylinders),
        "flowmeter": _flowmeter(told.flowmeter_min_ml_min, told.flowmeter_max_ml_min),
        "vaporizers at most": _text(told.vaporizer_places),
        "circuits": None if circuits is None else " and ".join(circuits) or "none",
        "absorbent": ", ".join(one for one in charge if one) or None,
        "relief valve opens at": _amount(told.relief_valve_cmh2o, "cmH2O"),
        "leak test first by": _text(told.leak_test_first),
        "compliance": _amount(told.compliance_ml_cmh2o, "mL/cmH2O"),
        "scavenging": told.scavenging,
    }


def profile_words(told: "Machine | MachineChange") -> str | None:
    """All that an entry tells of a machine's parts, in one run of words; None for nothing."""
    has, lacks = parts(told, there=True), parts(told, there=False)
    words = [f"has {has}" if has else None, f"has no {lacks}" if lacks else None]
    words += [f"{name} {text}" for name, text in quantities(told).items() if text]
    return ", ".join(word for word in words if word) or None


def _cylinders(sizes: tuple[str, ...]) -> str:
    return " and ".join(map(size_words, sizes)) or "none"


def _flowmeter(least: Any, most: Any) -> str | None:
    from_l, to_l = (None if one is None else format_decimal(one / 1000) for one in (least, most))
    words = [f"from {from_l}" if from_l else None, f"to {to_l}" if to_l else None]
    found = " ".join(word for word in words if word)
    return f"{found} L/min" if found else None


def _amount(value: Any, unit: str) -> str | None:
    return None if value is None else f"{format_decimal(round(value, 2))} {unit}"


def _text(value: Any) -> str | None:
    return None if value is None else str(value)
