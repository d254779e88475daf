"""Which breathing circuit goes with a weight, and where the sources differ about it."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from logbook.arithmetic.constants import (
    AAFP_EITHER_UP_TO_KG,
    AAFP_NON_REBREATHING_BELOW_KG,
    ADULT_REBREATHING_ABOVE_LB,
    NON_REBREATHING_BELOW_LB,
    SURVEY_HALF_FROM_KG,
    SURVEY_HALF_TO_KG,
    SURVEY_MEDIAN_KG,
    WIDELY_TAUGHT_KG,
)
from logbook.arithmetic.guards import require_weight_g
from logbook.units import GRAMS_PER_POUND, format_decimal

WATCH = "watch the patient: valves and bag must move with each breath"


class Circuit(StrEnum):
    """The kinds of breathing circuit."""

    NON_REBREATHING = "non-rebreathing"
    PEDIATRIC = "pediatric rebreathing"
    ADULT = "adult rebreathing"

    @property
    def rebreathing(self) -> bool:
        """Whether the patient's gas passes the absorbent."""
        return self is not Circuit.NON_REBREATHING


@dataclass(frozen=True, slots=True)
class CircuitChoice:
    """A circuit for a weight; ``sources_differ`` says that another source would choose another."""

    circuit: Circuit
    sources_differ: bool
    remark: str


def choose_circuit(weight_g: Decimal) -> CircuitChoice:
    """Choose by lean weight in grams: non-rebreathing under 5 lb, adult above 15 lb.

    Source: common practice; the remark names the published weights where they differ.

    >>> choose_circuit(Decimal(12_000)).circuit
    <Circuit.ADULT: 'adult rebreathing'>

    Raises:
        InputError: no animal has that weight.
    """
    require_weight_g(weight_g)
    lowest_g = NON_REBREATHING_BELOW_LB.value * GRAMS_PER_POUND
    if weight_g < lowest_g:
        return CircuitChoice(Circuit.NON_REBREATHING, sources_differ=False, remark=WATCH)
    adult = weight_g > ADULT_REBREATHING_ABOVE_LB.value * GRAMS_PER_POUND
    circuit = Circuit.ADULT if adult else Circuit.PEDIATRIC
    if weight_g > SURVEY_HALF_TO_KG.value * 1000:
        return CircuitChoice(circuit, sources_differ=False, remark=WATCH)
    below, either, median, half_from, half_to, taught = (
        format_decimal(number.value)
        for number in (
            AAFP_NON_REBREATHING_BELOW_KG,
            AAFP_EITHER_UP_TO_KG,
            SURVEY_MEDIAN_KG,
            SURVEY_HALF_FROM_KG,
            SURVEY_HALF_TO_KG,
            WIDELY_TAUGHT_KG,
        )
    )
    remark = (
        f"sources differ here: non-rebreathing under {below} kg and either from {below} to "
        f"{either} kg (AAFP 2018); specialists asked in 2022 change at {median} kg (median, half "
        f"of them from {half_from} to {half_to} kg); {taught} kg is widely taught; {WATCH}"
    )
    return CircuitChoice(circuit, sources_differ=True, remark=remark)
