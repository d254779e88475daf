"""What a checklist is made of, and what is said about one item."""

from decimal import Decimal
from typing import Literal

from logbook.value import Value

Kind = Literal["tick", "number", "hold", "choice"]
State = Literal["passed", "failed", "not done", "not fitted"]
Verdict = Literal["passed", "failed", "incomplete"]
Fits = Literal[
    "charcoal", "coaxial", "cylinder", "flush", "hours-label", "oxygen-alarm", "oxygen-monitor",
    "pipeline", "power", "rebreathing", "relief-valve", "scavenging", "second-gas", "suction",
    "suction-bulb", "two-vaporizers", "ventilator",
]  # fmt: skip
"""The parts that a machine or its circuit may lack; only their items can be "not fitted"."""
Reads = Literal["cylinder", "pipeline", "charcoal"]
"""What the number of an item can be a reading of."""
When = Literal["absorbent-half", "charcoal-weekly"]
"""What need not be looked at each time: the feel of the granules before the absorbent is half used,
the charcoal's weight within a week of the last weighing, unless it is nearly full."""
Compares = Literal["absorbent-hours"]
"""What the ledger counts, too, so that a number can be compared with it."""
Shows = Literal["relief-valve"]
"""What of the machine's profile is shown beside how an item is done."""
Tests = Literal["leak"]
"""What an item can test, so that a machine owes the test no more once the item has passed."""

POP_OFF_OPEN = "pop-off-open"
"""The item that ends every list that shuts the pop-off valve for a test."""
PAPER = "paper"
"""The one item of a check on paper, of which nobody typed the items."""
READ_IN: dict[Reads, str] = {"cylinder": "psi", "pipeline": "psi", "charcoal": "g"}
"""The unit of each reading."""
LIMIT_FIELDS = ("at_least", "at_most", "about", "within", "stops_below", "pressure", "or_hold")
"""The fields of an item that hold the name of a limit."""


class Item(Value):
    """One thing to look at.

    ``stops`` says that its failure puts the machine out of service; with ``stops_below`` only a
    value below that limit does. ``pressure`` is the pressure of the test. ``or_hold`` lets a timed
    hold stand in for the number. ``fits`` is the part that a machine may lack.
    ``absorbent_due`` holds the choices that mean exhausted absorbent. ``reads`` says of what gauge
    or scale the number is a reading, and ``tests`` what the item tests. ``when`` says that it is
    not asked each time, ``compares`` with what count of the ledger's the number is compared, and
    ``shows`` what of the machine's profile is told with it. ``number`` is the oxygen cylinder that
    it reads, of a machine with several; no list says it (``each_cylinder``).
    """

    key: str
    group: str
    title: str
    kind: Kind
    how: str
    why: str
    source: str
    confidence: str
    stops: bool
    fits: Fits | None = None
    unit: str | None = None
    at_least: str | None = None
    at_most: str | None = None
    about: str | None = None
    within: str | None = None
    stops_below: str | None = None
    pressure: str | None = None
    or_hold: str | None = None
    choices: tuple[str, ...] = ()
    passing: tuple[str, ...] = ()
    absorbent_due: tuple[str, ...] = ()
    reads: Reads | None = None
    tests: Tests | None = None
    when: When | None = None
    compares: Compares | None = None
    shows: Shows | None = None
    number: int | None = None

    @property
    def of_vaporizer(self) -> bool:
        """Whether it looks at a vaporizer; since 0.1.0 every list says that in words alone."""
        words = f"{self.key} {self.title} {self.group}".lower().replace("vaporis", "vaporiz")
        return "vaporizer" in words

    def limits(self) -> dict[str, str]:
        """The limits that the item names, by the field that names them."""
        named = {field: getattr(self, field) for field in LIMIT_FIELDS}
        return {field: limit for field, limit in named.items() if limit is not None}


class Checklist(Value):
    """A list in the order it is walked. ``rhythm`` is ISO 8601; None is before each case.

    ``fits`` holds parts of which a machine must have one to owe the list; none: every machine does
    (``profile.owes``).
    """

    name: str
    version: int
    title: str
    rhythm: str | None
    items: tuple[Item, ...]
    fits: tuple[Fits, ...] = ()


class Answer(Value):
    """What a person says about one item.

    A tick needs a state. A measured item needs its value with the unit, or the seconds that it
    held, or the word that was chosen; its state may be left out, because it follows. ``timed`` says
    of a hold whether this program timed it; else a person typed the seconds. The pressure of a test
    is the one that was read, of a timed fall at its begin and its end; None where nobody told it.
    """

    state: State | None = None
    value: str | None = None
    unit: str | None = None
    reason: str | None = None
    held_s: int | None = None
    timed: bool | None = None
    pressure_cmh2o: str | None = None
    end_pressure_cmh2o: str | None = None


class Judged(Value):
    """What an answer means, with the limit that judged it and its bounds, both included.

    ``pressure_cmh2o`` is the pressure at which the bounds hold: the one that was read, else that of
    the limit. ``leak_ml_min`` is what a timed fall means, by the compliance on record. ``reason``
    says why a test that was done decides nothing. ``stops`` is true where this very failure puts
    the machine out of service.
    """

    state: State
    sentence: str
    limit_name: str | None = None
    limit_value: Decimal | None = None
    limit_unit: str | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    pressure_cmh2o: Decimal | None = None
    leak_ml_min: Decimal | None = None
    reason: str | None = None
    stops: bool = False
    absorbent_due: bool = False
