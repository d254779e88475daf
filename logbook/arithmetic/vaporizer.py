"""What a vaporizer's measured output may be at a setting of its dial."""

from decimal import Decimal

from logbook.arithmetic.allowed import Allowed, about
from logbook.arithmetic.constants import HEATED_AGENTS, SEA_LEVEL_KPA
from logbook.vocabulary import VaporizerDesign

VARIABLE_BYPASS: VaporizerDesign = "variable-bypass"
HEATED: VaporizerDesign = "heated"


def usual_design(agent: str) -> VaporizerDesign:
    """How a vaporizer of an agent works where nobody told otherwise."""
    return HEATED if agent in HEATED_AGENTS else VARIABLE_BYPASS


def expected_output(
    dial_percent: Decimal, design: VaporizerDesign, ambient_kpa: Decimal | None
) -> Decimal:
    """What an analyser shows of a perfect vaporizer, in vol %, at a dial setting in vol %.

    A variable-bypass vaporizer keeps the partial pressure of its vapour, so that it makes more
    vol % of thinner air; a heated one keeps vol %. Without a pressure nothing is corrected.
    Source: "The effect of altitude on inhaled anaesthesia", FRCA notes (read).

    >>> expected_output(Decimal(1), "variable-bypass", Decimal("50.6625"))
    Decimal('2')
    """
    if ambient_kpa is None or design == HEATED:
        return dial_percent
    return dial_percent * SEA_LEVEL_KPA.value / ambient_kpa


def allowed_output(
    expected_percent: Decimal, tolerance_percent: Decimal, least_percent: Decimal = Decimal(0)
) -> Allowed:
    """The outputs (vol %) that are within where one is expected (vol %); each bound itself is.

    ``tolerance_percent`` is a percentage of what is expected; ``least_percent`` is in vol %, and
    the larger of the two counts.
    """
    return about(expected_percent, max(expected_percent * tolerance_percent / 100, least_percent))
