"""How much liquid agent a case used.

Use is rounded up: the vaporizer is never fuller than we say.
The flowmeter shows the gas before the vaporizer, and the vapour comes on top of it: of what leaves
a vaporizer at c = vol % ÷ 100, the share 1 − c is fresh gas. So
liquid mL = flow mL/min × c ÷ (1 − c) × min ÷ mL of vapour per mL of liquid.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from logbook.arithmetic.constants import (
    AGENTS,
    MOST_CASE_S,
    MOST_DIAL_PERCENT,
    AgentFacts,
)
from logbook.arithmetic.guards import (
    require_flow_ml_min,
    require_seconds,
    require_within,
)
from logbook.errors import InputError
from logbook.units import shown, whole

NL_PER_ML = PL_PER_UL = 1000 * 1000
PL_PER_ML = 1000 * NL_PER_ML
MICROLITRE = Decimal("0.001")
"""In mL."""


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of a case at one flow (mL/min) and one dial setting (vol %), in seconds."""

    seconds: int
    flow_ml_min: Decimal
    dial_percent: Decimal


def liquid_used_ml(agent: str, segments: Sequence[Segment]) -> Decimal:
    """Answer the mL of liquid ``agent`` that the segments used, rounded up to 0.001 mL.

    The dial may stand at 0 %. Source: Biro 2014 for the vapour of each agent, at 20 °C.

    >>> liquid_used_ml("isoflurane", [Segment(3600, Decimal(1000), Decimal(2))])
    Decimal('6.280')

    Raises:
        InputError: an unknown agent, no segment, or a setting that no machine has.
    """
    _facts(agent)
    if not segments:
        raise InputError(f"{agent} has no segment; give at least one time, flow and dial setting")
    vapour_pl = 0
    for segment in segments:
        require_seconds("time", segment.seconds, MOST_CASE_S.value)
        require_flow_ml_min(segment.flow_ml_min)
        require_within("dial", segment.dial_percent, Decimal(0), MOST_DIAL_PERCENT.value, "%")
        vapour_pl += segment.seconds * vapour_pl_min(segment.flow_ml_min, segment.dial_percent)
    return -(-vapour_pl // seconds_pl_min_per_ul(agent)) * MICROLITRE


def nanolitres(flow_ml_min: Decimal) -> int:
    """A flow of fresh gas in mL/min as whole nL/min, rounded up."""
    return whole(flow_ml_min * NL_PER_ML, ROUND_CEILING)


def vapour_pl_min(flow_ml_min: Decimal, dial_percent: Decimal) -> int:
    """The vapour on top of a flow of fresh gas (mL/min, vol %) as whole pL/min, rounded up."""
    return whole(flow_ml_min * dial_percent * PL_PER_ML / (100 - dial_percent), ROUND_CEILING)


def seconds_pl_min_per_ul(agent: str) -> int:
    """How much vapour, in pL/min times seconds, comes of one µL of liquid, rounded down.

    Raises:
        InputError: an unknown agent.
    """
    return whole(_facts(agent).vapour_ml_per_ml.value * 60 * PL_PER_UL, ROUND_FLOOR)


def _facts(agent: str) -> AgentFacts:
    """Find an agent by the name that the whole program uses."""
    facts = AGENTS.get(agent)
    if facts is None:
        raise InputError(f"agent {shown(agent)} is not known; use {', '.join(AGENTS)}")
    return facts
