"""How much oxygen a weight calls for, and which bound decided.

The flowmeter's maximum is the machine's own, and the most for the first minutes is the clinic's;
both come in as arguments, and None means that nobody told one.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from operator import itemgetter

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
from logbook.limits import Sourced


class Bound(StrEnum):
    """What decided a flow."""

    WEIGHT = "weight"
    CAT = "rule for cats"
    FLOOR = "floor"
    SETTING = "limit start-flow"
    FLOWMETER = "flowmeter maximum"


@dataclass(frozen=True, slots=True)
class Flow:
    """A flow in mL/min and what decided it.

    ``wanted_ml_min`` is what the rule asks; it is more than ``ml_min`` where the clinic's limit or
    the flowmeter stops it.
    """

    ml_min: Decimal
    bound: Bound
    wanted_ml_min: Decimal

    @property
    def reached(self) -> bool:
        """Whether nothing stops the flow below what the rule asks."""
        return self.ml_min >= self.wanted_ml_min


@dataclass(frozen=True, slots=True)
class FlowRange:
    """The least and the most that a rule asks."""

    low: Flow
    high: Flow


def start_flow(
    weight_g: Decimal,
    *,
    cat: bool = False,
    most_ml_min: Decimal | None = None,
    flowmeter_max_ml_min: Decimal | None = None,
) -> FlowRange:
    """Answer the flow of a rebreathing circuit for the first 10 to 15 minutes.

    200 to 300 mL/kg/min (common practice), cats 2 to 3 L/min for 15 minutes (AAFP 2018 Table 4);
    never below 500 mL/min and never above ``most_ml_min``, the clinic's own limit.
    Weight in grams, flows in mL/min.

    >>> start_flow(Decimal(12_000)).low.ml_min
    Decimal('2400')

    Raises:
        InputError: no animal has that weight, or no flowmeter that maximum.
    """
    if cat:
        require_weight_g(weight_g)
        wanted = [(each.value, Bound.CAT) for each in (CAT_START_LOW_ML_MIN, CAT_START_HIGH_ML_MIN)]
    else:
        wanted = _by_weight(weight_g, START_LOW_ML_KG_MIN, START_HIGH_ML_KG_MIN)
    return _range(wanted, (most_ml_min, Bound.SETTING), (flowmeter_max_ml_min, Bound.FLOWMETER))


def keep_up_flow(weight_g: Decimal, flowmeter_max_ml_min: Decimal | None = None) -> FlowRange:
    """Answer the flow of a rebreathing circuit once the patient is settled.

    25 to 50 mL/kg/min (common practice), never below 500 mL/min (AAFP 2018 Table 4).
    Weight in grams, flows in mL/min.

    >>> keep_up_flow(Decimal(12_000)).low
    Flow(ml_min=Decimal('500'), bound=<Bound.FLOOR: 'floor'>, wanted_ml_min=Decimal('500'))

    Raises:
        InputError: no animal has that weight, or no flowmeter that maximum.
    """
    wanted = _by_weight(weight_g, KEEP_UP_LOW_ML_KG_MIN, KEEP_UP_HIGH_ML_KG_MIN)
    return _range(wanted, (flowmeter_max_ml_min, Bound.FLOWMETER))


def non_rebreathing_flow(weight_g: Decimal, flowmeter_max_ml_min: Decimal | None = None) -> Flow:
    """Answer the least flow of a non-rebreathing circuit.

    At least 200 mL/kg/min and 500 mL/min (AAFP 2018 Table 4). When the flowmeter cannot reach
    it, ``reached`` is false and this circuit would let the patient rebreathe.
    Weight in grams, flows in mL/min.

    >>> non_rebreathing_flow(Decimal(4_000), flowmeter_max_ml_min=Decimal(700)).reached
    False

    Raises:
        InputError: no animal has that weight, or no flowmeter that maximum.
    """
    wanted = _by_weight(weight_g, NON_REBREATHING_ML_KG_MIN, NON_REBREATHING_ML_KG_MIN)
    return _range(wanted, (flowmeter_max_ml_min, Bound.FLOWMETER)).low


Wanted = tuple[Decimal, Bound]
Most = tuple[Decimal | None, Bound]


def _by_weight(weight_g: Decimal, *each_ml_kg_min: Sourced) -> list[Wanted]:
    """Answer a rule in mL/kg/min, never below the floor."""
    require_weight_g(weight_g)
    floor = FLOW_FLOOR_ML_MIN.value
    by_weight = [each.value * weight_g / 1000 for each in each_ml_kg_min]
    return [(flow, Bound.WEIGHT) if flow >= floor else (floor, Bound.FLOOR) for flow in by_weight]


def _range(wanted: list[Wanted], *most: Most) -> FlowRange:
    """Cut both ends off at the lowest of the bounds that are told, and say which it was."""
    told = [(limit, bound) for limit, bound in most if limit is not None]
    for limit, bound in told:
        if bound is Bound.FLOWMETER:
            require_flow_ml_min(limit, bound.value)
    low, high = (
        Flow(*min([(flow, rule), *told], key=itemgetter(0)), wanted_ml_min=flow)
        for flow, rule in wanted
    )
    return FlowRange(low, high)
