"""What a vaporizer's measured output may be at a setting of its dial."""

from decimal import Decimal

from logbook.arithmetic.allowed import Allowed, about


def allowed_output(dial_percent: Decimal, tolerance_percent: Decimal) -> Allowed:
    """The outputs (vol %) that are within at a dial setting (vol %); the tolerance itself is.

    ``tolerance_percent`` is a percentage of the dial setting.
    """
    return about(dial_percent, dial_percent * tolerance_percent / 100)
