"""The air around a clinic: its pressure by height, and what it does to a flowmeter."""

from decimal import Context, Decimal

from logbook.arithmetic.constants import (
    AIR_EXPONENT,
    AIR_LAPSE_K_M,
    FLOWMETER_POWER,
    SEA_LEVEL_AIR_K,
    SEA_LEVEL_KPA,
)

# One context of our own: a power is not exact, and every machine must answer the same.
_CONTEXT = Context(prec=40)
_TENTH = Decimal("0.1")


def usual_pressure_kpa(altitude_m: Decimal) -> Decimal:
    """Answer the usual pressure of the air at a height above the sea in m, to 0.1 kPa.

    The weather moves it by some percent, so a pressure that was read counts before it.
    Source: ICAO Standard Atmosphere, below 11 km.

    >>> usual_pressure_kpa(Decimal(1_609))
    Decimal('83.4')
    """
    cooler = 1 - AIR_LAPSE_K_M.value * altitude_m / SEA_LEVEL_AIR_K.value
    share = _CONTEXT.power(cooler, AIR_EXPONENT.value)
    return (SEA_LEVEL_KPA.value * share).quantize(_TENTH)


def ambient_kpa(told_kpa: Decimal | None, altitude_m: Decimal | None) -> Decimal | None:
    """Answer the pressure of the air by what a clinic told, its pressure first; None if neither."""
    if told_kpa is not None or altitude_m is None:
        return told_kpa
    return usual_pressure_kpa(altitude_m)


def flowmeter_factor(air_kpa: Decimal | None) -> Decimal:
    """Answer how many times its reading passes a flowmeter at most, in air of so many kPa.

    1 where nobody told the air, and in air as dense as at the sea, for which flowmeters are made.
    Source: beside ``FLOWMETER_POWER``.

    >>> round(flowmeter_factor(Decimal(84)), 3)
    Decimal('1.098')
    """
    return _CONTEXT.power(thinning(air_kpa), FLOWMETER_POWER.value)


def thinning(air_kpa: Decimal | None) -> Decimal:
    """Answer how many times thinner than at the sea air of so many kPa is, never less than 1."""
    if air_kpa is None:
        return Decimal(1)
    return max(_CONTEXT.divide(SEA_LEVEL_KPA.value, air_kpa), Decimal(1))
