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


_PIPELINE = "Pressure that the pipeline or regulator should show."
PIPELINE_ELSEWHERE = Limit(
    Decimal("58"), "psi", "ISO 7396-1: nominal 400 kPa", "from memory", _PIPELINE
)
"""What counts for ``pipeline`` in a country whose pipelines are not run at 50 psi."""
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
        "USP 35-NF 30, Soda Lime: 19.0 % of its weight; other kinds 5 L/100 g (Higuchi 2001)",
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
    "absorbent-feel": Limit(
        Decimal("50"),
        "%",
        "our own choice: opening the canister each morning loosens its seal",
        "our own choice",
        "Share of the absorbent's hours from which the daily check asks for the granules' feel.",
    ),
    "label-difference": Limit(
        Decimal("0.5"),
        "h",
        "our own choice: less than a short case",
        "our own choice",
        "How far the hours on the canister's label may lie from those counted here.",
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
    "late-hours": Limit(
        Decimal("2"),
        "h",
        "our own choice: what is written down after the next case is told so",
        "our own choice",
        "Beyond this every list says how long after it happened an entry was recorded.",
    ),
    "long-case": Limit(
        Decimal("6"),
        "h",
        "our own choice: errs early",
        "our own choice",
        "A case that runs longer than this is asked about: its end may have been forgotten.",
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
        "Least pressure of a cylinder of unknown size that starts the day: about half full.",
    ),
    "cylinder-start-minutes": Limit(
        Decimal("112"),
        "min",
        "what a US size E at 1000 psi (FDA 1993, item 2) gives at 2 L/min above 200 psi",
        "arithmetic",
        "How long a cylinder of known size that starts the day must last at the usual flow.",
        can_be_off=True,
    ),
    "usual-flow": Limit(
        Decimal("2000"),
        "mL/min",
        "our own choice: the most that keeps up a patient of 40 kg",
        "our own choice",
        "The oxygen flow with which a cylinder that starts the day is counted.",
    ),
    "cylinder-fall": Limit(
        Decimal("100"),
        "psi",
        "US Army MD0353",
        "read",
        "Largest fall of a shut cylinder's gauge in 5 min, of a large cylinder's in 7 min.",
    ),
    "pipeline": Limit(
        Decimal("50"),
        "psi",
        "FDA, Anesthesia Apparatus Checkout 1993, item 3",
        "seen quoted",
        _PIPELINE,
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
    "charcoal-weigh-days": Limit(
        Decimal("7"),
        "d",
        "our own choice: each week, and daily when it is nearly full",
        "our own choice",
        "The daily check asks for the charcoal's weight this many days after the last weighing.",
    ),
    "charcoal-agent": Limit(
        Decimal("50"),
        "g",
        "the gain of University at Buffalo SOP 4.A.16, of all agent that cases sent there",
        "arithmetic",
        "Weigh or replace a charcoal canister after so much agent may have come into it.",
        can_be_off=True,
    ),
    "vaporizer-output-tolerance": Limit(
        Decimal("15"),
        "%",
        "UC Davis policy; UConn Health",
        "read",
        "Largest error of a vaporizer's output, of what its dial lets expect.",
    ),
    "vaporizer-output-least": Limit(
        Decimal("0.05"),
        "vol %",
        "Nielsen et al., Br J Anaesth 1993;71:453: what an analyser tells apart",
        "read",
        "Error of a vaporizer's output that is never judged, because no analyser tells it.",
        can_be_off=True,
    ),
    "vaporizer-verified-months": Limit(
        Decimal("12"),
        "months",
        "UCSB SOP: not used more than a year after certification; UC Davis policy: yearly",
        "read",
        "A vaporizer whose output was verified longer ago is not used, whatever its plan says.",
        can_be_off=True,
    ),
    "vaporizer-unused-days": Limit(
        Decimal("365"),
        "d",
        "UC Davis policy: verified when unused over a year",
        "read",
        "Verify a vaporizer's output before use when it ran no case for so long.",
        can_be_off=True,
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
