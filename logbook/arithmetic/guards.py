"""Refusing what cannot be: one sentence that names the field, the value and what would do."""

from decimal import Decimal

from logbook.arithmetic.constants import LEAST_WEIGHT_G, MOST_FLOW_ML_MIN, MOST_WEIGHT_G
from logbook.errors import InputError
from logbook.units import format_decimal


def require_within(what: str, value: Decimal, low: Decimal, high: Decimal, unit: str) -> None:
    """Raise ``InputError`` unless ``low`` ≤ ``value`` ≤ ``high``, all in ``unit``."""
    if not value.is_finite() or not low <= value <= high:
        raise InputError(
            f"{what} {_text(value)} {unit} makes no sense here; "
            f"it must lie from {format_decimal(low)} to {format_decimal(high)} {unit}"
        )


def require_above_zero(what: str, value: Decimal, high: Decimal, unit: str) -> None:
    """Raise ``InputError`` unless 0 < ``value`` ≤ ``high``, both in ``unit``."""
    if not value.is_finite() or not 0 < value <= high:
        raise InputError(
            f"{what} {_text(value)} {unit} makes no sense here; "
            f"it must be more than 0 and at most {format_decimal(high)} {unit}"
        )


def require_weight_g(weight_g: Decimal) -> None:
    """Raise ``InputError`` unless an animal can weigh ``weight_g`` grams."""
    require_within("weight", weight_g, LEAST_WEIGHT_G.value, MOST_WEIGHT_G.value, "g")


def require_flow_ml_min(flow_ml_min: Decimal, what: str = "flow") -> None:
    """Raise ``InputError`` unless a flowmeter can run at ``flow_ml_min`` mL/min."""
    require_above_zero(what, flow_ml_min, MOST_FLOW_ML_MIN.value, "mL/min")


def require_seconds(what: str, seconds: int, most_s: Decimal) -> None:
    """Raise ``InputError`` unless 0 < ``seconds`` ≤ ``most_s``."""
    require_above_zero(what, Decimal(seconds), most_s, "s")


def _text(value: Decimal) -> str:
    """Print any number, also one that a reader would never have let in."""
    return format_decimal(value) if value.is_finite() else str(value)
