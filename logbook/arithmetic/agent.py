"""How much liquid agent a case used and when the vaporizer reaches its low mark.

Use is rounded up and time left is rounded down: the vaporizer is never fuller than we say.
Liquid mL = flow mL/min × vol % ÷ 100 × min ÷ mL of vapour per mL of liquid.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from logbook.arithmetic.constants import (
    AGENTS,
    MOST_CASE_S,
    MOST_DIAL_PERCENT,
    MOST_LIQUID_ML,
    AgentFacts,
)
from logbook.arithmetic.guards import (
    require_above_zero,
    require_flow_ml_min,
    require_seconds,
    require_within,
)
from logbook.errors import InputError
from logbook.units import shown, whole

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


def minutes_to_low_mark(
    agent: str,
    level_ml: Decimal,
    low_mark_ml: Decimal,
    flow_ml_min: Decimal,
    dial_percent: Decimal,
) -> int:
    """Answer the whole minutes until the liquid stands at the low mark, rounded down.

    Liquid in mL, flow in mL/min, dial in vol %. 0 when it already stands there.
    Raises ``InputError`` for an unknown agent, a closed dial (it would last for ever), or a
    reading that no machine has.
    """
    facts = _facts(agent)
    require_within("level", level_ml, Decimal(0), MOST_LIQUID_ML.value, "mL")
    require_within("low mark", low_mark_ml, Decimal(0), MOST_LIQUID_ML.value, "mL")
    require_flow_ml_min(flow_ml_min)
    require_above_zero("dial", dial_percent, MOST_DIAL_PERCENT.value, "%")
    left_ml = max(level_ml - low_mark_ml, Decimal(0))
    minutes = left_ml * facts.vapour_ml_per_ml.value * 100 / (flow_ml_min * dial_percent)
    return whole(minutes, ROUND_FLOOR)


def _facts(agent: str) -> AgentFacts:
    """Find an agent by the name that the whole program uses."""
    facts = AGENTS.get(agent)
    if facts is None:
        raise InputError(f"agent {shown(agent)} is not known; use {', '.join(AGENTS)}")
    return facts
