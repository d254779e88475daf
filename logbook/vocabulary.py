"""The closed lists and the bounds of what can be typed, each once, for entries, sums and commands.

The bounds only catch a slip of the hand: a wrong unit, a lost dot. They judge nothing and are our
own choice, each with what it lies above. Only light modules are imported, so that help stays quick.
"""

from decimal import Decimal
from typing import Literal, NamedTuple, get_args

Agent = Literal["isoflurane", "sevoflurane", "desflurane", "halothane"]
AGENTS: tuple[Agent, ...] = get_args(Agent)

VaporizerDesign = Literal["variable-bypass", "heated"]
VAPORIZER_DESIGNS: tuple[VaporizerDesign, ...] = get_args(VaporizerDesign)

CarrierGas = Literal["oxygen", "air", "oxygen and air", "oxygen and nitrous oxide"]
CARRIER_GASES: tuple[CarrierGas, ...] = get_args(CarrierGas)
"""What carried the vapour while it was measured."""

CircuitWord = Literal["adult rebreathing", "pediatric rebreathing", "non-rebreathing", "unknown"]
CIRCUITS: dict[str, CircuitWord] = {
    "adult": "adult rebreathing",
    "pediatric": "pediatric rebreathing",
    "non-rebreathing": "non-rebreathing",
    "unknown": "unknown",
}
"""Every circuit by the word that is spoken and typed."""
CIRCUITS_TO_CHOOSE = tuple(word for word in CIRCUITS if word != "unknown")
"""The words of the circuits that a patient can be put on."""

_CIRCUITS_BY_OTHER_WORDS = {
    "adult": ("circle", "f", "f-circuit", "universal", "rebreathing", "rebreather", "large"),
    "pediatric": ("paediatric", "ped", "peds", "pedi", "small-bore"),
    "non-rebreathing": (
        *("nrb", "nr", "nonrebreathing", "non-rebreather", "bain", "jackson-rees", "magill"),
        *("t-piece", "ayre", "lack", "mapleson", "open", "semi-open"),
    ),
    "unknown": ("?", "none", "not known"),
}


def circuit_word(text: str) -> str | None:
    """Our word for a circuit that was named in another word of the trade; None for no circuit.

    ``circle``, ``f`` and ``rebreathing`` name no size, and count as the adult one: what they load
    is the same.
    """
    said = " ".join(text.lower().split()).removesuffix(" circuit").replace(" ", "-")
    for word, others in _CIRCUITS_BY_OTHER_WORDS.items():
        if said in (word, CIRCUITS[word].replace(" ", "-"), *others):
            return word
    return None


CylinderSize = Literal["D", "E", "G", "H", "K", "M"]
CYLINDER_SIZES: tuple[CylinderSize, ...] = get_args(CylinderSize)
"""Sizes by the letters of the United States; the same letters mean other cylinders elsewhere."""


def size_words(size: str) -> str:
    """A cylinder's letter, with whose letter it is, or its water volume (``4.7L``)."""
    if size.endswith("L"):
        return f"{size.removesuffix('L')} L of water"
    return f"US size {size}"


Scavenging = Literal["active", "charcoal", "passive", "none"]
SCAVENGING: tuple[Scavenging, ...] = get_args(Scavenging)

AbsorbentKind = Literal["soda-lime", "without-strong-base", "unknown"]
ABSORBENT_KINDS: tuple[AbsorbentKind, ...] = get_args(AbsorbentKind)
SODA_LIME: AbsorbentKind = "soda-lime"


def absorbent_words(kind: AbsorbentKind) -> str:
    """A kind of absorbent as it is spoken."""
    words = {SODA_LIME: "soda lime", "without-strong-base": "absorbent without strong base"}
    return words.get(kind, "absorbent of an unknown kind")


"""What the absorbent is made of: with a strong base, without one, or nobody knows."""

LeakTestFirst = Literal["flow", "timed"]
LEAK_TESTS: tuple[LeakTestFirst, ...] = get_args(LeakTestFirst)
"""How a leak is measured: the flow that holds a pressure, or the time in which it falls."""

Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
WEEKDAYS: tuple[Weekday, ...] = get_args(Weekday)

DateOrder = Literal["day/month", "month/day"]
DATE_ORDERS: tuple[DateOrder, ...] = get_args(DateOrder)
"""What 3/2/2026 begins with."""

Verified = Literal["passed", "failed"]

Outcome = Literal["passed", "failed", "not verified"]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)

What = Literal["tipped", "dropped", "overfilled", "leak", "stuck", "damaged", "incident", "other"]
FAULTS: tuple[What, ...] = get_args(What)

Role = Literal["sign", "lead", "look"]
"""What a person may do at a page: sign the acts of a day, also change rules and other people's
entries, or only look."""
ROLES: tuple[Role, ...] = get_args(Role)

SPECIES = ("cat", "dog", "other")
"""The species that guard a weight."""


class Bounds(NamedTuple):
    """From ``least`` to ``most`` in ``unit``, both included; ``above`` tells what lies within."""

    least: Decimal
    most: Decimal
    unit: str
    above: str


def _bounds(least: str, most: str, unit: str, above: str) -> Bounds:
    return Bounds(Decimal(least), Decimal(most), unit, above)


SMALLEST = Decimal("0.000001")
"""The smallest step that an entry can hold, and so the least number above zero."""
POSITIVE = Bounds(SMALLEST, Decimal("999999"), "", "any number of the trade")
NOT_NEGATIVE = _bounds("0", "999999", "", "any number of the trade")
WEIGHT_G = _bounds("10", "200000", "g", "from a small bird to any dog")
CHARGE_G = _bounds("50", "10000", "g", "any charge of absorbent")
CANISTER_G = Bounds(SMALLEST, Decimal("10000"), "g", "any charcoal canister")
CAPACITY_ML = _bounds("1", "1000", "mL", "any vaporizer when it is full")
LIQUID_ML = _bounds("0", "1000", "mL", "any vaporizer's sump")
GAUGE_PSI = _bounds("0", "5000", "psi", "any full cylinder")
WATER_L = _bounds("0.1", "200", "L", "from a pocket cylinder to any single one")
FLOW_ML_MIN = _bounds("0", "20000", "mL/min", "any flowmeter")
DIAL_PERCENT = _bounds("0", "20", "%", "any vaporizer's dial")
OUTPUT_PERCENT = _bounds("0", "100", "%", "all gas that there is")
ALTITUDE_M = _bounds("0", "6000", "m", "any town")
AMBIENT_KPA = _bounds("45", "110", "kPa", "the air of the highest town to a record high")
TEMPERATURE_C = _bounds("0", "50", "°C", "any room")
PRESSURE_CMH2O = _bounds("0", "100", "cmH2O", "any manometer of a breathing system")
COMPLIANCE_ML_CMH2O = _bounds("0.1", "1000", "mL/cmH2O", "from a bare hose to a large bag")
MEASURED = _bounds("0", "1000", "", "any other gauge, scale or label")
LONGEST_CASE_S = 86_400
"""The longest case in seconds: a day; our own choice, so that a forgotten end is noticed."""
LONGEST_HOLD_S = 3_600
"""The longest hold in seconds: a gauge watched for over an hour was not watched; our own choice."""
MOST_PLACES = 6
"""The most vaporizers that stand on one machine; our own choice."""
MOST_CYLINDERS = 4
"""The most oxygen cylinders on one machine; our own choice."""
MOST_WORDS = 500
"""The longest remark in characters; our own choice."""
SILENT_DAYS = 3
"""A site of a group that was not heard for longer is told; our own choice: over a weekend."""
