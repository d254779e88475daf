"""How warm it is, in °C or °F."""

from decimal import ROUND_HALF_EVEN, Decimal

from logbook.errors import InputError
from logbook.units import parse_decimal, shown

_TENTH = Decimal("0.1")


def parse_temperature_c(text: str, what: str = "temperature") -> Decimal:
    """Read a temperature with C or F; answer °C, a converted one to 0.1 °C.

    >>> parse_temperature_c("21C"), parse_temperature_c("70 °F")
    (Decimal('21'), Decimal('21.1'))

    Raises:
        InputError: it is no number with such a unit.
    """
    bare = text.strip().upper()
    number, scale = bare[:-1].rstrip(" °"), bare[-1:]
    if scale not in ("C", "F") or not number:
        raise InputError(f"{what} {shown(text)} is not a temperature; write it like 21C or 70F")
    value = parse_decimal(number, what)
    if scale == "C":
        return value
    # 32 °F and 180 °F are 0 °C and 100 °C: NIST Special Publication 811.
    return ((value - 32) * 5 / 9).quantize(_TENTH, ROUND_HALF_EVEN)
