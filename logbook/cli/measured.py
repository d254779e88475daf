"""Reading what a hand writes for a measured item: a number, with or without its unit."""

from decimal import Decimal
from typing import TYPE_CHECKING

from logbook.errors import InputError

if TYPE_CHECKING:
    from logbook.checklists import Item

_READERS = {
    "psi": "parse_pressure_psi",
    "mL/min": "parse_flow_ml_min",
    "g": "parse_mass_g",
    "cmH2O": "parse_pressure_cmh2o",
    "mL": "parse_volume_ml",
}


# Above any gauge, flowmeter, canister or machine's week; our own choice, to catch a slip.
_MOST = {"psi": 5_000, "mL/min": 20_000, "g": 10_000, "cmH2O": 100}
_MOST_OTHER = 1_000


def measured_value(item: "Item", text: str) -> str:
    """The value in the item's unit, as plain digits; a bare number is in that unit already.

    Raises:
        InputError: it is no number, or its unit does not fit the item.
    """
    from logbook import units

    bare = text.strip()
    if item.unit and bare.lower().endswith(item.unit.lower()):
        bare = bare[: -len(item.unit)].strip()
    if item.unit in _READERS and not _is_bare(bare):
        value: Decimal = getattr(units, _READERS[item.unit])(text, item.key)
    else:
        value = units.parse_decimal(bare, item.key)
    most = _MOST.get(item.unit or "", _MOST_OTHER)
    if not 0 <= value <= most:
        raise InputError(
            f"{item.key} {units.format_decimal(value)} {item.unit} is more than any gauge shows; "
            "check the number and its unit"
        )
    return units.format_decimal(value)


def _is_bare(text: str) -> bool:
    return bool(text) and all(sign in "0123456789.-+" for sign in text)
