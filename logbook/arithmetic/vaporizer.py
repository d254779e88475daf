"""Judging a vaporizer's measured output against its dial."""

from dataclasses import dataclass
from decimal import Decimal

from logbook.arithmetic.constants import MOST_DIAL_PERCENT
from logbook.arithmetic.guards import require_above_zero, require_within


@dataclass(frozen=True, slots=True)
class OutputJudgement:
    """The error of the output as a percentage of the dial setting, and whether it is allowed.

    ``error_percent`` is above zero when more comes out than the dial says.
    """

    error_percent: Decimal
    within: bool


def judge_output(
    dial_percent: Decimal, measured_percent: Decimal, tolerance_percent: Decimal
) -> OutputJudgement:
    """Judge a measured output (vol %) at a dial setting (vol %); the tolerance itself is within.

    ``tolerance_percent`` is a percentage of the dial setting. Raises ``InputError`` for a dial
    at 0 %, which has no output to compare with, and for what no vaporizer gives.
    """
    require_above_zero("dial", dial_percent, MOST_DIAL_PERCENT.value, "%")
    require_within("measured output", measured_percent, Decimal(0), Decimal(100), "%")
    require_above_zero("tolerance", tolerance_percent, Decimal(100), "%")
    off = (measured_percent - dial_percent) * 100
    # Compared before the division, so that a limit is met exactly or not at all.
    return OutputJudgement(off / dial_percent, abs(off) <= tolerance_percent * dial_percent)
