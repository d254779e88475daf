"""Which breathing bag goes with a weight."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from logbook.arithmetic.constants import (
    BAG_TIDAL_VOLUMES,
    SMALL_PATIENT_UP_TO_KG,
    STOCKED_BAGS_ML,
    TIDAL_VOLUME_HIGH_ML_KG,
    TIDAL_VOLUME_LOW_ML_KG,
)
from logbook.arithmetic.guards import require_weight_g
from logbook.errors import InputError
from logbook.units import format_decimal

_STOCKED_ML = tuple(size.value for size in STOCKED_BAGS_ML)
_REMARK = "too full: next size up; always empty: next size down; watch the patient"
_TOO_SMALL = "The largest stocked bag holds less than the {} mL that the rule asks"


@dataclass(frozen=True, slots=True)
class BagChoice:
    """The tidal volume and bag that a weight calls for, all in mL; ``stocked_ml`` is the choice.

    ``large_enough`` is false when even the largest stocked bag holds less than the rule asks.
    """

    tidal_low_ml: Decimal
    tidal_high_ml: Decimal
    bag_low_ml: Decimal
    bag_high_ml: Decimal
    stocked_ml: Decimal
    large_enough: bool
    remark: str


def choose_bag(weight_g: Decimal, stocked_ml: Sequence[Decimal] = _STOCKED_ML) -> BagChoice:
    """Choose a stocked bag, in mL, for a weight in grams: six tidal volumes, rounded up.

    The tidal volume is 15 mL/kg up to 10 kg and 10 mL/kg above, never less than that of 10 kg,
    so that a heavier patient never gets a smaller bag. Sources: beside the constants.

    >>> choose_bag(Decimal(12_000)).stocked_ml
    Decimal('1000')

    Raises:
        InputError: no animal has that weight, or no bag is stocked.
    """
    require_weight_g(weight_g)
    if not stocked_ml:
        raise InputError("stocked bags are none; name at least one size, like 500 mL")
    for size in stocked_ml:
        if not size.is_finite() or size <= 0:
            raise InputError(f"stocked bag {size} mL is not a size; name sizes like 500 mL")
    weight_kg = weight_g / 1000
    low, high = TIDAL_VOLUME_LOW_ML_KG.value, TIDAL_VOLUME_HIGH_ML_KG.value
    smallest_kg = min(weight_kg, SMALL_PATIENT_UP_TO_KG.value)
    needed_ml = BAG_TIDAL_VOLUMES.value * max(smallest_kg * high, weight_kg * low)
    holding = [size for size in stocked_ml if size >= needed_ml]
    largest = max(stocked_ml)
    return BagChoice(
        tidal_low_ml=weight_kg * low,
        tidal_high_ml=weight_kg * high,
        bag_low_ml=BAG_TIDAL_VOLUMES.value * weight_kg * low,
        bag_high_ml=BAG_TIDAL_VOLUMES.value * weight_kg * high,
        stocked_ml=min(holding, default=largest),
        large_enough=bool(holding),
        remark=_REMARK if holding else _TOO_SMALL.format(format_decimal(needed_ml)),
    )
