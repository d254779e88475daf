"""How much liquid agent a case used.

Use is rounded up: the vaporizer is never fuller than we say.
The flowmeter shows the gas before the vaporizer, and the vapour comes on top of it: of what leaves
a vaporizer at c = vol % ÷ 100, the share 1 − c is fresh gas. So
liquid mL = flow mL/min × c ÷ (1 − c) × min ÷ mL of vapour per mL of liquid.

In thin air, k times thinner than at the sea, more gas passes a flowmeter than it reads, and a
variable-bypass vaporizer makes k × vol % of it; a mL of vapour is then 1 ÷ k of one at the sea. So
liquid mL = flowmeter factor × flow × c ÷ (1 − k × c) × min ÷ mL of vapour per mL of liquid.
A heated vaporizer keeps vol % and uses less there; it is counted as at the sea, which errs early.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Any, NamedTuple

from logbook.arithmetic.air import flowmeter_factor, thinning
from logbook.arithmetic.constants import (
    AGENTS,
    GAS_L_PER_MOL,
    MOST_CASE_S,
    MOST_DIAL_PERCENT,
    AgentFacts,
)
from logbook.arithmetic.guards import (
    require_flow_ml_min,
    require_seconds,
    require_within,
)
from logbook.arithmetic.vaporizer import HEATED, usual_design
from logbook.errors import InputError
from logbook.units import shown, whole
from logbook.vocabulary import AMBIENT_KPA, VaporizerDesign

NL_PER_ML = PL_PER_UL = 1000 * 1000
PL_PER_ML = 1000 * NL_PER_ML
PPM = 1000 * 1000
MICROLITRE = Decimal("0.001")
"""In mL."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a case at one flow (mL/min) and one dial setting (vol %), in seconds."""

    seconds: int
    flow_ml_min: Decimal
    dial_percent: Decimal


class Vaporizing(NamedTuple):
    """How a vaporizer's vapour counts, in the air around it, by whole numbers that SQL adds up.

    ``per_ul`` is the vapour (pL/min times seconds, as flowmeter and dial tell it) that comes of a
    µL of liquid, rounded down; ``thin_ppm`` is how much thinner than at the sea the air is, as far
    as that makes its output richer, in millionths.
    """

    per_ul: int = 1
    thin_ppm: int = 0


def vaporizing(agent: str, design: VaporizerDesign, air_kpa: Decimal | None) -> Vaporizing:
    """How the vapour of an agent counts in air of so many kPa; None where nobody told the air.

    Raises:
        InputError: an unknown agent, or air that there is nowhere.
    """
    per_ul = _facts(agent).vapour_ml_per_ml.value * 60 * PL_PER_UL
    if air_kpa is not None:
        require_within("air", air_kpa, AMBIENT_KPA.least, AMBIENT_KPA.most, AMBIENT_KPA.unit)
    if design == HEATED:
        return Vaporizing(whole(per_ul, ROUND_FLOOR))
    return Vaporizing(
        whole(per_ul / flowmeter_factor(air_kpa), ROUND_FLOOR),
        whole((thinning(air_kpa) - 1) * PPM, ROUND_CEILING),
    )


def liquid_used_ml(
    agent: str,
    segments: Sequence[Stretch],
    *,
    design: VaporizerDesign | None = None,
    air_kpa: Decimal | None = None,
) -> Decimal:
    """Answer the mL of liquid ``agent`` that the segments used, rounded up to 0.001 mL.

    The dial may stand at 0 %. Source: Biro 2014 for the vapour of each agent, at 20 °C. The design
    is the agent's usual one, and the air as at the sea, unless told.

    >>> liquid_used_ml("isoflurane", [Stretch(3600, Decimal(1000), Decimal(2))])
    Decimal('6.280')

    Raises:
        InputError: an unknown agent, no segment, or a setting that no machine has.
    """
    counted = vaporizing(agent, design or usual_design(agent), air_kpa)
    if not segments:
        raise InputError(f"{agent} has no segment; give at least one time, flow and dial setting")
    vapour_pl = 0
    for segment in segments:
        require_seconds("time", segment.seconds, MOST_CASE_S.value)
        require_flow_ml_min(segment.flow_ml_min)
        require_within("dial", segment.dial_percent, Decimal(0), MOST_DIAL_PERCENT.value, "%")
        flow, dial = segment.flow_ml_min, segment.dial_percent
        told = (vapour_pl_min(flow, dial), nanolitres(flow))
        vapour_pl += segment.seconds * in_thin_air(*told, counted.thin_ppm)
    return -(-vapour_pl // counted.per_ul) * MICROLITRE


def nanolitres(flow_ml_min: Decimal) -> int:
    """A flow of fresh gas in mL/min as whole nL/min, rounded up."""
    return whole(flow_ml_min * NL_PER_ML, ROUND_CEILING)


def vapour_pl_min(flow_ml_min: Decimal, dial_percent: Decimal) -> int:
    """The vapour on top of a flow of fresh gas (mL/min, vol %) as whole pL/min, rounded up."""
    return whole(flow_ml_min * dial_percent * PL_PER_ML / (100 - dial_percent), ROUND_CEILING)


def in_thin_air(vapour_pl_min: Any, flow_nl_min: Any, thin_ppm: Any) -> Any:
    """The vapour (pL/min) on top of a flow above zero (nL/min) where the air is thinner by so many
    millionths, rounded up; of whole numbers, or of columns of SQL in 64 bits.

    Of v as at the sea on top of the flow f it is v ÷ (1 − (k − 1) × v ÷ f) in air k times thinner.
    """
    richer_ppm = _ceiling(vapour_pl_min * thin_ppm, flow_nl_min * (PL_PER_ML // NL_PER_ML))
    return vapour_pl_min + _ceiling(vapour_pl_min * richer_ppm, PPM - richer_ppm)


def _ceiling(of: Any, by: Any) -> Any:
    return (of + by - 1) // by


def grams(agent: str, liquid_ml: Decimal) -> Decimal:
    """What liquid agent weighs, in g at 20 °C, unrounded: as much as the vapour that it makes.

    >>> round(grams("isoflurane", Decimal(100)), 1)
    Decimal('149.6')

    Raises:
        InputError: an unknown agent.
    """
    facts = _facts(agent)
    mol_per_ml = facts.vapour_ml_per_ml.value / (GAS_L_PER_MOL.value * 1000)
    return liquid_ml * mol_per_ml * facts.molar_mass_g_mol.value


def _facts(agent: str) -> AgentFacts:
    """Find an agent by the name that the whole program uses."""
    facts = AGENTS.get(agent)
    if facts is None:
        raise InputError(f"agent {shown(agent)} is not known; use {', '.join(AGENTS)}")
    return facts
