"""How much liquid agent a case used.

Use is rounded up: the vaporizer is never fuller than we say.
Liquid mL = flow mL/min × vol % ÷ 100 × min ÷ mL of vapour per mL of liquid.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

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
from logbook.units import shown

_MICROLITRE = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of a case at one flow (mL/min) and one dial setting (vol %), in seconds."""

    seconds: int
    flow_ml_min: Decimal
    dial_percent: Decimal


def liquid_used_ml(agent: str, segments: Sequence[Segment]) -> Decimal:
    """Answer the mL of liquid ``agent`` that the segments used, rounded up to 0.001 mL.

    The dial may stand at 0 %. Source: Biro 2014 for the vapour of each agent, at 20 °C.
    Raises ``InputError`` for an unknown agent, no segment, or a setting that no machine has.
    """
    facts = _facts(agent)
    if not segments:
        raise InputError(f"{agent} has no segment; give at least one time, flow and dial setting")
    # Multiplied out first and divided once, so that nothing is rounded on the way.
    percent_ml_s = Decimal(0)
    for segment in segments:
        require_seconds("time", segment.seconds, MOST_CASE_S.value)
        require_flow_ml_min(segment.flow_ml_min)
        require_within("dial", segment.dial_percent, Decimal(0), MOST_DIAL_PERCENT.value, "%")
        percent_ml_s += segment.seconds * segment.flow_ml_min * segment.dial_percent
    used = percent_ml_s / (100 * 60 * facts.vapour_ml_per_ml.value)
    return used.quantize(_MICROLITRE, rounding=ROUND_CEILING)


def _facts(agent: str) -> AgentFacts:
    """Find an agent by the name that the whole program uses."""
    facts = AGENTS.get(agent)
    if facts is None:
        raise InputError(f"agent {shown(agent)} is not known; use {', '.join(AGENTS)}")
    return facts
