"""How much oxygen a weight calls for, and which bound decided.

The flowmeter's maximum is the machine's own and comes in as an argument.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from logbook.arithmetic.constants import (
    CAT_START_HIGH_ML_MIN,
    CAT_START_LOW_ML_MIN,
    FLOW_FLOOR_ML_MIN,
    KEEP_UP_HIGH_ML_KG_MIN,
    KEEP_UP_LOW_ML_KG_MIN,
    NON_REBREATHING_ML_KG_MIN,
    START_HIGH_ML_KG_MIN,
    START_LOW_ML_KG_MIN,
)
from logbook.arithmetic.guards import require_flow_ml_min, require_weight_g


class Bound(StrEnum):
    """What decided a flow."""

    WEIGHT = "weight"
    CAT = "rule for cats"
    FLOOR = "floor"
    FLOWMETER = "flowmeter maximum"


@dataclass(frozen=True, slots=True)
class Flow:
    """A flow in mL/min and what decided it.

    ``wanted_ml_min`` is what the rule asks; it is more than ``ml_min`` when the flowmeter cannot.
    """

    ml_min: Decimal
    bound: Bound
    wanted_ml_min: Decimal

    @property
    def reached(self) -> bool:
        """Whether the flowmeter can give what the rule asks."""
        return self.ml_min >= self.wanted_ml_min


@dataclass(frozen=True, slots=True)
class FlowRange:
    """The least and the most that a rule asks."""

    low: Flow
    high: Flow


def start_flow(weight_g: Decimal, flowmeter_max_ml_min: Decimal, *, cat: bool = False) -> FlowRange:
    """Answer the flow of a rebreathing circuit for the first 10 to 15 minutes.

    200 to 300 mL/kg/min (common practice), cats 2 to 3 L/min for 15 minutes (AAFP 2018 Table 4);
    never below 500 mL/min. Weight in grams, flows in mL/min. Raises ``InputError``.
    """
    if not cat:
        return _by_weight(
            weight_g, START_LOW_ML_KG_MIN.value, START_HIGH_ML_KG_MIN.value, flowmeter_max_ml_min
        )
    require_weight_g(weight_g)
    require_flow_ml_min(flowmeter_max_ml_min, "flowmeter maximum")
    return FlowRange(
        low=_at_most(CAT_START_LOW_ML_MIN.value, Bound.CAT, flowmeter_max_ml_min),
        high=_at_most(CAT_START_HIGH_ML_MIN.value, Bound.CAT, flowmeter_max_ml_min),
    )


def keep_up_flow(weight_g: Decimal, flowmeter_max_ml_min: Decimal) -> FlowRange:
    """Answer the flow of a rebreathing circuit once the patient is settled.

    25 to 50 mL/kg/min (common practice), never below 500 mL/min (AAFP 2018 Table 4).
    Weight in grams, flows in mL/min. Raises ``InputError``.
    """
    return _by_weight(
        weight_g, KEEP_UP_LOW_ML_KG_MIN.value, KEEP_UP_HIGH_ML_KG_MIN.value, flowmeter_max_ml_min
    )


def non_rebreathing_flow(weight_g: Decimal, flowmeter_max_ml_min: Decimal) -> Flow:
    """Answer the least flow of a non-rebreathing circuit.

    At least 200 mL/kg/min and 500 mL/min (AAFP 2018 Table 4). When the flowmeter cannot reach
    it, ``reached`` is false and this circuit would let the patient rebreathe.
    Weight in grams, flows in mL/min. Raises ``InputError``.
    """
    each = NON_REBREATHING_ML_KG_MIN.value
    return _by_weight(weight_g, each, each, flowmeter_max_ml_min).low


def _by_weight(
    weight_g: Decimal, low_ml_kg_min: Decimal, high_ml_kg_min: Decimal, most_ml_min: Decimal
) -> FlowRange:
    """Answer a rule in mL/kg/min between the floor and the flowmeter's maximum."""
    require_weight_g(weight_g)
    require_flow_ml_min(most_ml_min, "flowmeter maximum")
    floor = FLOW_FLOOR_ML_MIN.value
    flows = []
    for each_ml_kg_min in (low_ml_kg_min, high_ml_kg_min):
        by_weight = each_ml_kg_min * weight_g / 1000
        bound = Bound.FLOOR if by_weight < floor else Bound.WEIGHT
        flows.append(_at_most(max(by_weight, floor), bound, most_ml_min))
    return FlowRange(low=flows[0], high=flows[1])


def _at_most(wanted_ml_min: Decimal, bound: Bound, most_ml_min: Decimal) -> Flow:
    """Cut a flow off at the flowmeter's maximum and say so."""
    if wanted_ml_min > most_ml_min:
        return Flow(most_ml_min, Bound.FLOWMETER, wanted_ml_min)
    return Flow(wanted_ml_min, bound, wanted_ml_min)
