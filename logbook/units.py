"""Reading and printing the quantities a hand writes: weights, volumes, flows, pressures, percents.

Every reader takes the text and the name of the field, answers an exact ``Decimal`` in the unit
that its own name ends in, and raises ``InputError`` with one sentence otherwise. A quantity needs
its unit, because 24 kg and 24 lb are different dogs. ``logbook.times`` reads times.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal

from logbook.errors import InputError

MOST_DIGITS = 12
"""More digits than any reading of the trade has; a longer number is a slip of the hand."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)")
_GROUPED = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_DOTTED = re.compile(r"^[1-9][0-9]{0,2}\.[0-9]{2}0(?![0-9])")
_QUANTITY = re.compile(r"(?P<number>[^A-Za-z%]*)(?P<unit>.*)", re.DOTALL)

# One context for all conversions, so that no caller's own precision can change a reading.
_EXACT = Context(prec=60)

# Exact by the international yard and pound agreement of 1959 (NIST Special Publication 811,
# Appendix B.8); the ounce is a sixteenth of the pound.
GRAMS_PER_POUND = Decimal("453.59237")
GRAMS_PER_OUNCE = GRAMS_PER_POUND / 16

# NIST Special Publication 811, Appendix B.8: conventional centimetre of water 98.0665 Pa,
# conventional millimetre of mercury 133.322387415 Pa (13.5951 times a millimetre of water).
PASCALS_PER_CMH2O = Decimal("98.0665")
PASCALS_PER_MMHG = Decimal("133.322387415")

# Pound-force per square inch from its definition: 0.45359237 kg × 9.80665 m/s² over
# (0.0254 m)² (NIST Special Publication 811, Appendix B.8: 6894.757 Pa).
PASCALS_PER_PSI = _EXACT.divide(
    Decimal("0.45359237") * Decimal("9.80665"), Decimal("0.0254") * Decimal("0.0254")
)


@dataclass(frozen=True, slots=True)
class _Kind:
    """One kind of quantity: how its units convert, and how to write it.

    ``factors`` holds, per unit in small letters, what one unit is in the base unit. ``likely``, in
    the base unit, tells a thousand's comma from a decimal one where only one reading lies within.
    """

    noun: str
    factors: Mapping[str, Decimal]
    fits: str
    example: str
    places: int | None = None
    likely: tuple[Decimal, Decimal] | None = None


_MASS = _Kind(
    noun="weight",
    factors={
        **dict.fromkeys(("g", "gram", "grams"), Decimal(1)),
        **dict.fromkeys(("kg", "kgs", "kilo", "kilos"), Decimal(1000)),
        **dict.fromkeys(("lb", "lbs", "pound", "pounds"), GRAMS_PER_POUND),
        "oz": GRAMS_PER_OUNCE,
    },
    fits="g, kg, lb or oz",
    example="24kg or 53lb",
    # Our own choice: from a small bird to above any dog.
    likely=(Decimal(10), Decimal(200_000)),
)
_VOLUME = _Kind(
    noun="volume",
    factors={"ml": Decimal(1), "cc": Decimal(1), "l": Decimal(1000)},
    fits="mL or L",
    example="250mL or 1.5L",
)
_FLOW = _Kind(
    noun="flow",
    factors={
        "ml/min": Decimal(1),
        "cc/min": Decimal(1),
        **dict.fromkeys(("l/min", "lpm", "l/m"), Decimal(1000)),
    },
    fits="mL/min or L/min",
    example="200mL/min or 1.5L/min",
)
# The air's pressure in hPa (mbar) is what a weather station tells; the inch of mercury is 25.4 mm.
_AIR = _Kind(
    noun="pressure of the air",
    factors={
        "kpa": Decimal(1),
        "hpa": Decimal("0.1"),
        "mbar": Decimal("0.1"),
        "mmhg": PASCALS_PER_MMHG / 1000,
        "inhg": PASCALS_PER_MMHG * Decimal("25.4") / 1000,
    },
    fits="kPa, hPa, mmHg or inHg",
    example="83.4kPa or 834hPa",
    places=3,
)
# Exact by the international yard and pound agreement of 1959 (NIST Special Publication 811).
_HEIGHT = _Kind(
    noun="height",
    factors={"m": Decimal(1), "ft": Decimal("0.3048")},
    fits="m or ft",
    example="1600m or 5280ft",
    places=1,
)
# A converted pressure is kept to a thousandth: finer than any gauge, and a text of fair length.
_LOW_PRESSURE = _Kind(
    noun="breathing-system pressure",
    factors={
        "cmh2o": Decimal(1),
        "kpa": _EXACT.divide(Decimal(1000), PASCALS_PER_CMH2O),
        "mbar": _EXACT.divide(Decimal(100), PASCALS_PER_CMH2O),
        "mmhg": _EXACT.divide(PASCALS_PER_MMHG, PASCALS_PER_CMH2O),
    },
    fits="cmH2O, kPa, mbar or mmHg",
    example="30cmH2O or 3kPa",
    places=3,
)
LEAST_LIKELY_PSI = Decimal(20)
_HIGH_PRESSURE = _Kind(
    noun="cylinder or pipeline pressure",
    factors={
        "psi": Decimal(1),
        "psig": Decimal(1),
        "bar": _EXACT.divide(Decimal(100_000), PASCALS_PER_PSI),
        "kpa": _EXACT.divide(Decimal(1000), PASCALS_PER_PSI),
        "mpa": _EXACT.divide(Decimal(1_000_000), PASCALS_PER_PSI),
    },
    fits="psi, bar, kPa or MPa",
    example="1500psi or 100bar",
    places=3,
    # Our own choice: below any pipeline in use, above any full cylinder.
    likely=(LEAST_LIKELY_PSI, Decimal(5_000)),
)


def printable(text: str) -> str:
    """``text`` without the signs that a terminal obeys instead of showing them."""
    return "".join(sign if sign.isprintable() or sign == "\n" else "?" for sign in text)


def shown(text: str) -> str:
    """Return ``text`` fit for an error sentence: one line, printable, at most 40 characters."""
    clean = printable(text.strip()).replace("\n", "?")
    return clean if len(clean) <= 40 else clean[:37] + "..."


def parse_decimal(text: str, what: str) -> Decimal:
    """Read a plain number such as ``2.5``, ``-3`` or ``.5``; ``what`` names the field.

    Raises:
        InputError: it is anything else: words such as ``nan``, exponents, commas, digits of other
            scripts, nothing at all, or more than 12 digits.
    """
    bare = text.strip()
    if not bare:
        raise InputError(f"{what} is empty; write a number like 2.5")
    if "," in bare:
        raise InputError(f"{what} {shown(text)} has a comma; write it like 2.5")
    if not _NUMBER.fullmatch(bare):
        raise InputError(f"{what} {shown(text)} is not a plain number; write it like 2.5")
    if sum(sign.isdigit() for sign in bare) > MOST_DIGITS:
        raise InputError(
            f"{what} {shown(text)} has more than {MOST_DIGITS} digits; write it like 2.5"
        )
    # Adding nothing turns a minus zero into zero, which prints as a person expects.
    return _EXACT.add(Decimal(bare), Decimal(0))


def parse_mass_g(text: str, what: str = "weight") -> Decimal:
    """Read a weight in g, kg, lb or oz; answer grams, exactly.

    >>> parse_mass_g("24.5kg")
    Decimal('24500')

    Raises:
        InputError: it is no number above or at zero with such a unit.
    """
    return _parse(text, what, _MASS)


def parse_volume_ml(text: str, what: str = "volume") -> Decimal:
    """Read a volume in mL, cc or L; answer millilitres, exactly.

    >>> parse_volume_ml("1.5L")
    Decimal('1500')

    Raises:
        InputError: it is no number above or at zero with such a unit.
    """
    return _parse(text, what, _VOLUME)


def parse_flow_ml_min(text: str, what: str = "flow") -> Decimal:
    """Read a flow in mL/min, cc/min, L/min or lpm; answer mL/min.

    >>> parse_flow_ml_min("2L/min")
    Decimal('2000')

    Raises:
        InputError: it is no number above or at zero with such a unit.
    """
    return _parse(text, what, _FLOW)


def parse_pressure_cmh2o(text: str, what: str = "pressure") -> Decimal:
    """Read a breathing-system pressure in cmH2O, kPa, mbar or mmHg; answer cmH2O.

    A converted pressure is rounded to 0.001 cmH2O.

    >>> parse_pressure_cmh2o("3kPa")
    Decimal('30.591')

    Raises:
        InputError: it is no number above or at zero with such a unit.
    """
    return _parse(text, what, _LOW_PRESSURE)


def parse_pressure_psi(text: str, what: str = "pressure") -> Decimal:
    """Read a gauge pressure of a cylinder or pipeline in psi, psig, bar, kPa or MPa; answer psi.

    A converted pressure is rounded to 0.001 psi.

    >>> parse_pressure_psi("100bar"), parse_pressure_psi("1,800 psi")
    (Decimal('1450.377'), Decimal('1800'))

    Raises:
        InputError: it is no number above or at zero with such a unit.
    """
    value, bare = _parse(text, what, _HIGH_PRESSURE), text.strip()
    # 1.800 psi is absurd as it stands, and a full cylinder's where the dot parts thousands.
    if value < LEAST_LIKELY_PSI < value * 1000 and (dotted := _DOTTED.match(bare)):
        either = f"{bare.replace('.', '')} or {_stripped(dotted[0])}{bare[dotted.end() :]}"
        raise InputError(f"{what} {shown(text)} can be read in two ways; write {either}")
    return value


def parse_altitude_m(text: str, what: str = "altitude") -> Decimal:
    """Read a height above the sea in m or ft; answer metres.

    A converted height is rounded to 0.1 m.

    >>> parse_altitude_m("5280ft")
    Decimal('1609.3')

    Raises:
        InputError: it is no number above or at zero with such a unit.
    """
    return _parse(text, what, _HEIGHT)


def parse_air_kpa(text: str, what: str = "pressure") -> Decimal:
    """Read the pressure of the air in kPa, hPa, mbar, mmHg or inHg; answer kPa.

    A converted pressure is rounded to 0.001 kPa.

    >>> parse_air_kpa("834hPa"), parse_air_kpa("760 mmHg")
    (Decimal('83.4'), Decimal('101.325'))

    Raises:
        InputError: it is no number above or at zero with such a unit.
    """
    return _parse(text, what, _AIR)


MOST_PIPELINE_PSI = Decimal(200)
"""Our own choice: above any pipeline or regulator, which show 45 to 60 psi."""


def parse_pipeline_psi(text: str, what: str = "pressure") -> Decimal:
    """Read the gauge of a pipeline or regulator in psi, psig, bar, kPa or MPa; answer psi.

    >>> parse_pipeline_psi("4bar")
    Decimal('58.015')

    Raises:
        InputError: it is no such pressure, or one that only a cylinder has.
    """
    value = parse_pressure_psi(text, what)
    require_pipeline(value, text, what)
    return value


def require_pipeline(value_psi: Decimal, text: str, what: str) -> None:
    """Ask whether the cylinder was meant where ``text`` said what no pipeline has.

    Raises:
        InputError: it is above any pipeline.
    """
    if value_psi > MOST_PIPELINE_PSI:
        raise InputError(
            f"{what} {shown(text)} is more than any pipeline has; did you mean the cylinder?",
        )


def parse_percent(text: str, what: str = "percent") -> Decimal:
    """Read a percentage from 0 to 100, with or without its sign; answer percent.

    >>> parse_percent("2.5%")
    Decimal('2.5')

    Raises:
        InputError: it is no such number.
    """
    bare = text.strip()
    value = parse_decimal(bare[:-1] if bare.endswith("%") else bare, what)
    if not 0 <= value <= 100:
        raise InputError(f"{what} {shown(text)} is not within 0 to 100 %; write it like 2.5%")
    return value


def _parse(text: str, what: str, kind: _Kind) -> Decimal:
    """Read a number with a unit of ``kind`` that is not below zero."""
    bare = text.strip()
    if not bare:
        raise InputError(f"{what} is empty; write it like {kind.example}")
    parts = _QUANTITY.fullmatch(bare)
    number, unit = (parts["number"].strip(), parts["unit"]) if parts else ("", bare)
    if not number:
        raise InputError(f"{what} {shown(text)} is not a {kind.noun}; write it like {kind.example}")
    if "," in number:
        number = _without_comma(number, unit, text, what, kind)
    if not _NUMBER.fullmatch(number):
        raise InputError(f"{what} {shown(text)} is not a {kind.noun}; write it like {kind.example}")
    factor = kind.factors.get(unit.lower())
    if factor is None:
        wrong = f"the unit {shown(unit)} does not fit" if unit else "it needs its unit"
        raise InputError(
            f"{what} {shown(text)} is not a {kind.noun}: {wrong}; "
            f"use {kind.fits}, like {kind.example}"
        )
    value = parse_decimal(number, what)
    if value < 0:
        raise InputError(f"{what} {shown(text)} is below zero; write it like {kind.example}")
    converted = _EXACT.multiply(value, factor)
    places = None if factor == 1 else kind.places
    return Decimal(_stripped(format_decimal(converted, places)))


def _without_comma(number: str, unit: str, text: str, what: str, kind: _Kind) -> str:
    """Read a comma between thousands, as in 1,800 psi, where the other reading would be absurd."""
    factor = kind.factors.get(unit.lower())
    if factor is None or not _GROUPED.fullmatch(number):
        raise InputError(
            f"{what} {shown(text)} has a comma; write a dot, like 2.5, with {kind.fits}"
        )
    thousands = number.replace(",", "")
    if number.count(",") > 1 or "." in number:
        return thousands
    readings = [thousands, _stripped(number.replace(",", "."))]
    if kind.likely is not None:
        low, high = kind.likely
        likely = [one for one in readings if low <= _EXACT.multiply(Decimal(one), factor) <= high]
        if len(likely) == 1:
            return likely[0]
    either = " or ".join(f"{one}{unit}" for one in readings)
    raise InputError(
        f"{what} {shown(text)} has a comma that can be read in two ways; write {either}"
    )


def whole(value: Decimal, rounding: str = ROUND_HALF_EVEN) -> int:
    """Round to a whole number, in whatever unit ``value`` has."""
    return int(value.to_integral_value(rounding=rounding))


def format_decimal(
    value: Decimal, places: int | None = None, rounding: str = ROUND_HALF_EVEN
) -> str:
    """Print a number plainly, never with an exponent, in whatever unit ``value`` has.

    With ``places`` it has exactly that many digits behind the dot; without, it is printed in
    full and trailing zeros are dropped.

    >>> format_decimal(Decimal("2.50")), format_decimal(Decimal("2.5"), places=2)
    ('2.5', '2.50')

    Raises:
        ValueError: it is no finite number; no reader in this module lets one in.
    """
    if not value.is_finite():
        raise ValueError(f"{value} cannot be printed as a plain number")
    if places is None:
        return _stripped(f"{value:f}")
    rounded = value.quantize(Decimal(1).scaleb(-places), rounding=rounding, context=_EXACT)
    # A small negative number that rounds to nothing must not print as -0.
    return f"{rounded.copy_abs() if rounded.is_zero() else rounded:f}"


def _stripped(number: str) -> str:
    """Drop zeros behind the dot that say nothing, and the sign of a zero."""
    short = number.rstrip("0").rstrip(".") if "." in number else number
    return "0" if short == "-0" else short
