"""How much carbon dioxide a case gives to the absorbent, and how much a charge can take.

The capacity is rounded down: the absorbent is never fresher than we say. Colour
is no part of this; the maker's instructions and what the eye and hand find come first.
"""

from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from functools import cache

from logbook.arithmetic.constants import (
    ABSORBENT_UPTAKE_PERCENT,
    CO2_G_PER_MOL,
    CO2_OUTPUT_UMOL_KG75_MIN,
    GAS_L_PER_MOL,
    LEAST_CHARGE_G,
    METABOLIC_EXPONENT,
    MOST_CHARGE_G,
    OTHER_ABSORBENT_L_PER_100_G,
)
from logbook.arithmetic.guards import require_weight_g, require_within
from logbook.units import whole
from logbook.vocabulary import SODA_LIME, AbsorbentKind

NL_PER_ML = 1000 * 1000
_ML = Decimal("0.001")

# One context of our own: a power is not exact, and every machine must answer the same.
_CONTEXT = Context(prec=40)


def co2_output_ml_min(weight_g: Decimal) -> Decimal:
    """Answer the carbon dioxide that a patient breathes out, in mL/min at 20 °C, unrounded.

    516 µmol/kg^0.75/min: Pouteau et al. 2002, fed dogs awake. That is more than their fasted dogs
    and the anesthetized ones of Mikat et al. 1984 gave, so it errs early. Weight in grams.

    Raises:
        InputError: no animal has that weight.
    """
    require_weight_g(weight_g)
    metabolic = _CONTEXT.power(weight_g / 1000, METABOLIC_EXPONENT.value)
    # Micromoles times litres per mole are microlitres.
    return _CONTEXT.multiply(metabolic, CO2_OUTPUT_UMOL_KG75_MIN.value * GAS_L_PER_MOL.value / 1000)


@cache
def co2_output_nl_min(weight_g: Decimal) -> int:
    """The same in whole nL/min, rounded up: whole numbers are added up without rounding."""
    return whole(_CONTEXT.multiply(co2_output_ml_min(weight_g), NL_PER_ML), ROUND_CEILING)


def capacity_l(charge_g: Decimal, kind: AbsorbentKind) -> Decimal:
    """Answer the litres of carbon dioxide that a fresh charge takes at least, rounded down to mL.

    The charge in grams; of soda lime 19.0 % of its weight (USP 35-NF 30), 10.4 L per 100 g at
    20 °C; without strong base, and where the kind is not known, 5 L (Higuchi et al. 2001).

    >>> capacity_l(Decimal(1_200), "soda-lime"), capacity_l(Decimal(1_200), "unknown")
    (Decimal('124.620'), Decimal('60.000'))

    Raises:
        InputError: no canister holds such a charge.
    """
    require_within("charge", charge_g, LEAST_CHARGE_G.value, MOST_CHARGE_G.value, "g")
    if kind == SODA_LIME:
        co2_g = charge_g * ABSORBENT_UPTAKE_PERCENT.value / 100
        litres = co2_g / CO2_G_PER_MOL.value * GAS_L_PER_MOL.value
    else:
        litres = charge_g * OTHER_ABSORBENT_L_PER_100_G.value / 100
    return litres.quantize(_ML, rounding=ROUND_FLOOR)
