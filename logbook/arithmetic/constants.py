"""Every fixed number of the trade, once, with where it comes from and how sure we are of it.

What a clinic may change is in ``logbook.limits``; what a unit is worth is in ``logbook.units``.
The maker's instructions come before anything here.
"""

from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from logbook.limits import Sourced
from logbook.vocabulary import LONGEST_CASE_S

_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class AgentFacts:
    """What is fixed about one liquid agent, at 20 °C and 1 atm."""

    cas: str
    molar_mass_g_mol: Sourced
    vapour_ml_per_ml: Sourced
    vapour_pressure_mmhg: Sourced


_BIRO = "Biro, Acta Anaesthesiol Scand 2014, 10.1111/aas.12374"


def _agent(
    cas: str, molar_mass: str, vapour: str, pressure: str, how_sure: str = "read"
) -> AgentFacts:
    """Put the three numbers of one row beside their sources; labels differ in how sure they are of
    the vapour's pressure."""
    return AgentFacts(
        cas=cas,
        molar_mass_g_mol=Sourced(Decimal(molar_mass), "g/mol", f"{_BIRO}; label", "read"),
        vapour_ml_per_ml=Sourced(Decimal(vapour), "mL vapour/mL liquid", _BIRO, "read"),
        vapour_pressure_mmhg=Sourced(Decimal(pressure), "mmHg", f"{_BIRO}; label", how_sure),
    )


AGENTS = MappingProxyType(
    {
        "isoflurane": _agent("26675-46-7", "184.5", "195", "238"),
        "sevoflurane": _agent("28523-86-6", "200.05", "184", "157"),
        "desflurane": _agent("57041-67-5", "168.04", "210", "669", "weak"),
        "halothane": _agent("151-67-7", "197.38", "229", "243"),
    }
)
"""The agents by the names that the whole program uses."""


def _cylinder(value: str) -> Sourced:
    return Sourced(
        Decimal(value), "L/psi", "US respiratory-care teaching, many places alike", "weak"
    )


CYLINDER_L_PER_PSI = MappingProxyType(
    {
        "D": _cylinder("0.16"),
        "E": _cylinder("0.28"),
        "G": _cylinder("2.41"),
        "H": _cylinder("3.14"),
        "K": _cylinder("3.14"),
        "M": _cylinder("1.56"),
    }
)
"""Oxygen per psi by cylinder size. E is about 20 % on the cautious side of 660 L at 1900 psi."""


@dataclass(frozen=True, slots=True)
class FullCylinder:
    """What a cylinder holds when it is full, as a table prints it."""

    volume_l: Sourced
    gauge_psi: Sourced


def _full(volume_l: str, gauge_psi: str, source: str, confidence: str) -> FullCylinder:
    return FullCylinder(
        Sourced(Decimal(volume_l), "L", source, confidence),
        Sourced(Decimal(gauge_psi), "psi", source, confidence),
    )


_H = _full("6900", "2200", "tables of US respiratory-care teaching, many alike", "weak")
FULL_CYLINDERS = MappingProxyType(
    {
        "D": _full("400", "1900", "Nagelhout & Zaglaniczy 2001, Table 14-1", "from memory"),
        "E": _full("660", "1900", "Nagelhout & Zaglaniczy 2001, Table 14-1", "seen quoted"),
        "G": _full("5000", "2200", "DeAnza College: slightly over 5000 L", "seen quoted"),
        "H": _H,
        "K": _H,
        "M": _full("3000", "2200", "DeAnza College: 3000 to 3450 L; the smaller", "read"),
    }
)
"""Full cylinders by size, for the real gas. The letters are those of the United States."""

ATMOSPHERE_PSI = Sourced(
    Decimal("14.69595"), "psi", "standard atmosphere, 101.325 kPa (NIST SP 811)", "read"
)
_FITTED = "fitted to CoolProp 8.0 (Schmidt & Wagner 1985) at 20 °C, 0 to 5000 psi, within 0.03 %"
OXYGEN_COMPRESSIBILITY = tuple(
    Sourced(Decimal(value), f"per (1000 psi)^{power}", _FITTED, "arithmetic")
    for power, value in enumerate(("-0.0478809", "0.00519196", "0.00208715", "-0.000223921"), 1)
)
"""How compressed oxygen departs from proportion: Z = 1 + a·p + b·p² + c·p³ + d·p⁴, p a gauge's."""

OXYGEN_RESERVE_PSI = Sourced(
    Decimal("200"), "psi", "US respiratory-care teaching, many places alike", "weak"
)
"""Pressure that is left in a cylinder and not counted on."""

# The air.
_ICAO = "ICAO Standard Atmosphere, Doc 7488/2"
SEA_LEVEL_KPA = Sourced(Decimal("101.325"), "kPa", _ICAO, "seen quoted")
SEA_LEVEL_AIR_K = Sourced(Decimal("288.15"), "K", _ICAO, "seen quoted")
AIR_LAPSE_K_M = Sourced(Decimal("0.0065"), "K/m", _ICAO, "seen quoted")
AIR_EXPONENT = Sourced(
    Decimal("5.25588"),
    "power",
    f"{_ICAO}: gravity × molar mass ÷ gas constant ÷ lapse",
    "arithmetic",
)
FLOWMETER_POWER = Sourced(
    Decimal("0.5"),
    "power of thinning",
    "Bernoulli through a float's ring-shaped gap: flow at a reading goes with 1 ÷ √density; "
    "FRCA notes: flowmeters read low by √(101.3 ÷ P)",
    "arithmetic",
)
"""How much more passes a float flowmeter at a reading in thin air. The smallest flows creep past
the float and are as read, so that this errs towards more agent used.

Only agent is counted so. Oxygen is counted as read: of thin gas a litre takes less out of a
cylinder, so that it lasts longer than we say, and a patient is given more than we say.
"""

# Vaporizers.
HEATED_AGENTS = frozenset({"desflurane"})
"""Agents that boil near the warmth of a room, so that their vaporizers are heated and keep vol %
("The effect of altitude on inhaled anaesthesia", FRCA notes: read)."""
LEAST_VERIFICATIONS = Sourced(
    Decimal("3"), "verifications", "our own choice: two make a line of any noise", "our own choice"
)
DAYS_A_YEAR = Sourced(Decimal("365.25"), "d", "a year of the Julian calendar", "arithmetic")
DRIFT_AHEAD_YEARS = Sourced(
    Decimal("10"), "years", "makers' longest service interval, UConn Health", "read"
)
"""How far ahead a drift is followed."""

# Circuits by weight.
NON_REBREATHING_BELOW_LB = Sourced(Decimal("5"), "lb", "common practice", _PRACTICE)
ADULT_REBREATHING_ABOVE_LB = Sourced(Decimal("15"), "lb", "common practice", _PRACTICE)
AAFP_NON_REBREATHING_BELOW_KG = Sourced(
    Decimal("3"), "kg", "AAFP Feline Anesthesia Guidelines 2018", "read"
)
AAFP_EITHER_UP_TO_KG = Sourced(Decimal("6"), "kg", "AAFP Feline Anesthesia Guidelines 2018", "read")
_SURVEY = "specialists in anesthesia asked in 2022 (abstract): median, and the middle half of them"
SURVEY_MEDIAN_KG = Sourced(Decimal("5"), "kg", _SURVEY, "read")
SURVEY_HALF_FROM_KG = Sourced(Decimal("3"), "kg", _SURVEY, "read")
SURVEY_HALF_TO_KG = Sourced(Decimal("10"), "kg", _SURVEY, "read")
WIDELY_TAUGHT_KG = Sourced(Decimal("7"), "kg", "teaching cards, many alike", "weak")

# Breathing bags.
TIDAL_VOLUME_LOW_ML_KG = Sourced(Decimal("10"), "mL/kg", "common practice", _PRACTICE)
TIDAL_VOLUME_HIGH_ML_KG = Sourced(Decimal("15"), "mL/kg", "common practice", _PRACTICE)
BAG_TIDAL_VOLUMES = Sourced(
    Decimal("6"), "tidal volumes", "Simpson, a supplier's guide, which says why", "weak"
)
AAFP_CAT_BAG_FROM_KG = Sourced(Decimal("3"), "kg", "AAFP 2018 Table 4, a circle", "read")
AAFP_CAT_BAG_TO_KG = Sourced(Decimal("10"), "kg", "AAFP 2018 Table 4, a circle", "read")
AAFP_CAT_BAG_ML = Sourced(Decimal("1000"), "mL", "AAFP 2018 Table 4, a circle", "read")
SMALL_PATIENT_UP_TO_KG = Sourced(
    Decimal("10"),
    "kg",
    "our own choice: 15 mL/kg to 10 kg and 10 mL/kg above meet AAFP 2018 Table 4 and Simpson",
    "arithmetic",
)
STOCKED_BAGS_ML = (
    Sourced(Decimal("500"), "mL", "AAFP 2018 Table 4", "read"),
    Sourced(Decimal("1000"), "mL", "AAFP 2018 Table 4", "read"),
    Sourced(Decimal("2000"), "mL", "Simpson, a supplier's guide", "weak"),
    Sourced(Decimal("3000"), "mL", "common practice", _PRACTICE),
    Sourced(Decimal("5000"), "mL", "Simpson, a supplier's guide", "weak"),
)

# Oxygen flows.
START_LOW_ML_KG_MIN = Sourced(Decimal("200"), "mL/kg/min", "common practice", _PRACTICE)
START_HIGH_ML_KG_MIN = Sourced(Decimal("300"), "mL/kg/min", "common practice", _PRACTICE)
CAT_START_LOW_ML_MIN = Sourced(Decimal("2000"), "mL/min", "AAFP 2018 Table 4", "read")
CAT_START_HIGH_ML_MIN = Sourced(Decimal("3000"), "mL/min", "AAFP 2018 Table 4", "read")
START_ANY_LOW_L_MIN = Sourced(
    Decimal("2"), "L/min", "teaching after AAHA 2020, for any patient", "weak"
)
START_ANY_HIGH_L_MIN = Sourced(
    Decimal("3"), "L/min", "teaching after AAHA 2020, for any patient", "weak"
)
START_CARD_LOW_ML_KG_MIN = Sourced(Decimal("50"), "mL/kg/min", "a teaching card", "weak")
START_CARD_HIGH_ML_KG_MIN = Sourced(Decimal("100"), "mL/kg/min", "a teaching card", "weak")
KEEP_UP_LOW_ML_KG_MIN = Sourced(Decimal("25"), "mL/kg/min", "common practice", _PRACTICE)
KEEP_UP_HIGH_ML_KG_MIN = Sourced(Decimal("50"), "mL/kg/min", "common practice", _PRACTICE)
NON_REBREATHING_ML_KG_MIN = Sourced(Decimal("200"), "mL/kg/min", "AAFP 2018 Table 4", "read")
FLOW_FLOOR_ML_MIN = Sourced(Decimal("500"), "mL/min", "AAFP 2018 Table 4", "read")

# Carbon dioxide and its absorbent.
CO2_OUTPUT_UMOL_KG75_MIN = Sourced(
    Decimal("516"),
    "µmol/kg^0.75/min",
    "Pouteau et al., Am J Vet Res 2002;63:111, fed dogs awake; fasted they gave 410",
    "read",
)
"""Used for every species. Fasted or anesthetized dogs give less, so that it errs early."""
METABOLIC_EXPONENT = Sourced(
    Decimal("0.75"), "power of kg", "Kleiber; the unit of Pouteau et al. 2002", "read"
)
GAS_L_PER_MOL = Sourced(
    Decimal("24.055"),
    "L/mol",
    "ideal gas at 20 °C and 1 atm, gas constant of CODATA 2018",
    "arithmetic",
)
CO2_G_PER_MOL = Sourced(Decimal("44.01"), "g/mol", "IUPAC standard atomic weights", "from memory")
ABSORBENT_UPTAKE_PERCENT = Sourced(
    Decimal("19.0"), "% of its weight", "USP 35-NF 30, Soda Lime", "seen quoted"
)
OTHER_ABSORBENT_L_PER_100_G = Sourced(
    Decimal("5"),
    "L/100 g",
    "Higuchi et al., Anesth Analg 2001;93:221: 5.5 and 7.6 without strong base",
    "read",
)
"""The floor of an absorbent without strong base, and of one whose kind nobody knows."""


@dataclass(frozen=True, slots=True)
class Reaching:
    """How much of the breathed-out carbon dioxide reaches the absorbent, in percent, at fresh gas
    below so much."""

    below_ml_kg_min: Sourced
    least_percent: Sourced
    most_percent: Sourced


def _reaching(below: str, least: str, most: str) -> Reaching:
    source = "our own bounds; their direction agrees with Öhrn 1991 and Jørgensen 1977"
    return Reaching(
        Sourced(Decimal(below), "mL/kg/min", source, "weak"),
        Sourced(Decimal(least), "%", source, "weak"),
        Sourced(Decimal(most), "%", source, "weak"),
    )


REACHING = (
    _reaching("25", "78", "100"),
    _reaching("50", "50", "90"),
    _reaching("100", "0", "78"),
    _reaching("200", "0", "53"),
)
"""From 200 mL/kg/min on next to nothing reaches it."""

# Leaks of the breathing system.
GAUGE_STEP_CMH2O = Sourced(
    Decimal("1"), "cmH2O", "our own choice: what an eye tells apart on a gauge", "our own choice"
)
BAG_COMPLIANCE_ML_CMH2O = Sourced(
    Decimal("100"), "mL/cmH2O", "a breathing system with its bag on, in round figures", "arithmetic"
)
"""So 1 cmH2O in 10 s is about 600 mL/min: a timed fall with a bag on shows only a large leak."""

LEAST_TEST_SHARE = Sourced(
    Decimal("0.5"),
    "of the test's pressure",
    "our own choice, errs early: a leak that opens under pressure is not seen far below it",
    "our own choice",
)

# What a reading can be at all. These only catch a slip of the hand: a wrong unit, a lost dot.
LEAST_WEIGHT_G = Sourced(Decimal("10"), "g", "our own choice: a small bird", "our own choice")
MOST_WEIGHT_G = Sourced(Decimal("200000"), "g", "our own choice: above any dog", "our own choice")
MOST_FLOW_ML_MIN = Sourced(
    Decimal("20000"), "mL/min", "our own choice: above any flowmeter", "our own choice"
)
MOST_CYLINDER_PSI = Sourced(
    Decimal("5000"), "psi", "our own choice: above any full cylinder", "our own choice"
)
MOST_CYLINDER_L = Sourced(
    Decimal("20000"), "L", "our own choice: above any single cylinder", "our own choice"
)
MOST_FACTOR_L_PER_PSI = Sourced(
    Decimal("10"), "L/psi", "our own choice: above any single cylinder", "our own choice"
)
MOST_DIAL_PERCENT = Sourced(
    Decimal("20"), "%", "our own choice: above any vaporizer's dial", "our own choice"
)
MOST_CASE_S = Sourced(Decimal(LONGEST_CASE_S), "s", "our own choice: a day", "our own choice")
LEAST_CHARGE_G = Sourced(Decimal("50"), "g", "our own choice: below any canister", "our own choice")
MOST_CHARGE_G = Sourced(
    Decimal("10000"), "g", "our own choice: above any canister", "our own choice"
)

# Planning a case.
START_MIN = Sourced(Decimal("15"), "min", "AAFP 2018 Table 4: the first 15 minutes", "read")
PLANNED_MIN = Sourced(Decimal("60"), "min", "our own choice: an hour unless told", "our own choice")
PLANNING_DIAL_PERCENT = MappingProxyType(
    {
        "isoflurane": Sourced(Decimal("2"), "%", "common practice", _PRACTICE),
        "sevoflurane": Sourced(Decimal("3"), "%", "common practice", _PRACTICE),
        "desflurane": Sourced(Decimal("8"), "%", "common practice", _PRACTICE),
        "halothane": Sourced(Decimal("1.5"), "%", "common practice", _PRACTICE),
    }
)
"""The dial that a plan counts with where nobody names one; it is no dose and no advice."""
SPECIES_KG = MappingProxyType(
    {
        "cat": (
            Sourced(Decimal("0.3"), "kg", "our own choice: a young kitten", "our own choice"),
            Sourced(Decimal("15"), "kg", "our own choice: above a heavy cat", "our own choice"),
        ),
        "dog": (
            Sourced(Decimal("0.3"), "kg", "our own choice: a young puppy", "our own choice"),
            Sourced(Decimal("120"), "kg", "our own choice: above a heavy dog", "our own choice"),
        ),
    }
)
"""Weights outside these are taken for a slip of the pen and refused."""
DRIFT_PERCENT = Sourced(
    Decimal("25"), "%", "our own choice: above what entries vary by", "our own choice"
)
"""How far use that was seen may lie from use that was worked out before it is remarked on."""
DRIFT_TIMES = Sourced(Decimal("3"), "fills", "our own choice: once is no pattern", "our own choice")

# Forecasts: how much of the past is drawn from, and how far that is trusted. Held against made-up
# clinics in ``tests/benchmarks/forecast_suite.py``.
WEEK_DAYS = Sourced(Decimal("7"), "days", "the calendar", "arithmetic")
_SUITE = "our own choice, held against made-up clinics"
HISTORY_WEEKS = Sourced(Decimal("26"), "weeks", f"{_SUITE}: half a year", "our own choice")
LEAST_WEEKS = Sourced(Decimal("4"), "weeks", f"{_SUITE}: fewer show no spread", "our own choice")
HALF_LIFE_WEEKS = Sourced(Decimal("8"), "weeks", _SUITE, "our own choice")
WALK_STEP = Sourced(Decimal("0.08"), "of the logarithm a week", _SUITE, "our own choice")
HORIZON_WEEKS = Sourced(Decimal("26"), "weeks", f"{_SUITE}: half a year ahead", "our own choice")
FORECAST_PATHS = Sourced(Decimal("1000"), "draws", _SUITE, "our own choice")
EARLY_SHARE = Sourced(Decimal("0.1"), "of the draws", "our own choice: 1 in 10", "our own choice")
DEVIATES_95 = Sourced(
    Decimal("1.96"), "standard deviations", "the normal distribution, 95 of 100", "from memory"
)

# The week's list.
AGENT_BOTTLE_ML = Sourced(Decimal("250"), "mL", "bottles as they are mostly sold", _PRACTICE)
BOOKING_DAYS = Sourced(
    Decimal("90"), "days", "our own choice: who comes must be asked early", "our own choice"
)
