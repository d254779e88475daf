"""The limits a clinic works by: one table, each default with its source and how sure we are.

A limit is data. ``rule set`` records another value for the clinic or for one machine; this table
holds only what counts until somebody does. The maker's instructions and local rules come first.
"""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Sourced:
    """A number with its unit, where it comes from, and how sure we are of it.

    ``confidence`` is one of ``read`` (the source's text was seen), ``seen quoted`` (a reproduction
    of it was seen), ``weak`` (teaching cards, suppliers), ``common practice, no source``,
    ``from memory``, ``arithmetic`` and ``our own choice``.
    """

    value: Decimal
    unit: str
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Limit(Sourced):
    """A default that a clinic may change. ``meaning`` is the sentence a technician reads.

    The value ``0`` of a limit with ``can_be_off`` switches its clock off.
    """

    meaning: str
    can_be_off: bool = False


LIMITS: dict[str, Limit] = {
    "absorbent-hours": Limit(
        Decimal("8"),
        "h",
        "common practice",
        "common practice, no source",
        "Change the absorbent after this much use on a rebreathing circuit.",
        can_be_off=True,
    ),
    "absorbent-days": Limit(
        Decimal("14"),
        "d",
        "teaching material: two weeks after opening",
        "weak",
        "Change the absorbent this many days after the last change, used or not.",
        can_be_off=True,
    ),
    "absorbent-co2": Limit(
        Decimal("100"),
        "%",
        "USP 35-NF 30, Soda Lime: takes at least 19.0 % of its weight",
        "seen quoted",
        "Change the absorbent at this share of the carbon dioxide that its charge takes at least.",
        can_be_off=True,
    ),
    "absorbent-agent": Limit(
        Decimal("0"),
        "mL",
        "Dunlop, WSAVA 2014: 125 mL of liquid agent",
        "read",
        "Change the absorbent after this much liquid agent (off unless set).",
        can_be_off=True,
    ),
    "absorbent-counts-non-rebreathing": Limit(
        Decimal("0"),
        "yes=1 no=0",
        "AAFP Feline Anesthesia Guidelines 2018, Table 3",
        "read",
        "Whether a non-rebreathing case loads the absorbent.",
        can_be_off=True,
    ),
    "leak-pressure": Limit(
        Decimal("30"),
        "cmH2O",
        "FDA, Anesthesia Apparatus Checkout 1993, item 11",
        "seen quoted",
        "Pressure of the breathing-system leak test.",
    ),
    "leak-hold": Limit(
        Decimal("10"),
        "s",
        "FDA, Anesthesia Apparatus Checkout 1993, item 11",
        "seen quoted",
        "Shortest time that the leak test's pressure must hold.",
    ),
    "leak-flow": Limit(
        Decimal("200"),
        "mL/min",
        "a service firm's newsletter: the strictest value seen",
        "weak",
        "Largest flow that may be needed to hold the leak test's pressure.",
    ),
    "start-flow": Limit(
        Decimal("5"),
        "L/min",
        "our own choice: sources differ, and a teaching card stops at 5 L/min (weak)",
        "our own choice",
        "Most oxygen in the first minutes on a rebreathing circuit, whatever the weight asks.",
        can_be_off=True,
    ),
    "check-hours": Limit(
        Decimal("4"),
        "h",
        "our own choice: a morning",
        "our own choice",
        "How long the answers of one check count together; an unfinished one then ends.",
    ),
    "cylinder-low": Limit(
        Decimal("200"),
        "psi",
        "a supplier's chart",
        "weak",
        "Replace an oxygen cylinder below this pressure.",
    ),
    "cylinder-start": Limit(
        Decimal("1000"),
        "psi",
        "FDA, Anesthesia Apparatus Checkout 1993, item 2",
        "seen quoted",
        "Least pressure of a cylinder that starts the day: about half full.",
    ),
    "pipeline": Limit(
        Decimal("50"),
        "psi",
        "FDA, Anesthesia Apparatus Checkout 1993, item 3",
        "seen quoted",
        "Pressure that the pipeline or regulator should show.",
    ),
    "pipeline-tolerance": Limit(
        Decimal("5"),
        "psi",
        "our own reading of 'about 50 psi'",
        "our own choice",
        "How far from the pipeline pressure a reading may lie.",
    ),
    "charcoal-hours": Limit(
        Decimal("12"),
        "h",
        "University at Buffalo SOP 4.A.16",
        "read",
        "Replace a charcoal canister after this much use.",
        can_be_off=True,
    ),
    "charcoal-gain": Limit(
        Decimal("50"),
        "g",
        "University at Buffalo SOP 4.A.16",
        "read",
        "Replace a charcoal canister that gained this much weight.",
        can_be_off=True,
    ),
    "vaporizer-output-tolerance": Limit(
        Decimal("15"),
        "%",
        "UC Davis policy; UConn Health",
        "read",
        "Largest error of a vaporizer's output against its dial.",
    ),
    "due-soon-days": Limit(
        Decimal("7"),
        "d",
        "our own choice: the coming week",
        "our own choice",
        "How many days ahead a date counts as due soon.",
    ),
    "due-soon-share": Limit(
        Decimal("75"),
        "%",
        "our own choice: errs early",
        "our own choice",
        "Share of a limit in hours, weight or volume from which it counts as due soon.",
    ),
}
"""Every limit by its name."""
