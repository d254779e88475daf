"""Judging a charcoal canister by its weight gain and its hours, whichever comes first."""

from dataclasses import dataclass
from decimal import Decimal

from logbook.arithmetic.constants import MOST_CANISTER_G, MOST_CANISTER_LOSS_G
from logbook.arithmetic.guards import require_above_zero, require_within
from logbook.errors import InputError
from logbook.units import format_decimal

# A limit in hours above a year is a slip of the hand.
_MOST_HOURS = Decimal(24 * 366)
_MOST_USED_S = Decimal(24 * 366 * 3600)


@dataclass(frozen=True, slots=True)
class CharcoalJudgement:
    """Whether to replace the canister, and by which of its two clocks."""

    full_by_weight: bool
    full_by_hours: bool

    @property
    def replace(self) -> bool:
        """Whether either clock has run out."""
        return self.full_by_weight or self.full_by_hours


def weight_gain_g(fresh_g: Decimal, now_g: Decimal) -> Decimal:
    """Answer the grams that a canister gained since it was fresh; a little less is scale noise.

    Raises ``InputError`` when it lost more than two weighings differ by: then it is another
    canister or another scale.
    """
    require_above_zero("fresh weight", fresh_g, MOST_CANISTER_G.value, "g")
    require_above_zero("weight now", now_g, MOST_CANISTER_G.value, "g")
    gain = now_g - fresh_g
    if gain < -MOST_CANISTER_LOSS_G.value:
        raise InputError(
            f"weight now {format_decimal(now_g)} g is less than the fresh "
            f"{format_decimal(fresh_g)} g; weigh again, and check that it is the same canister"
        )
    return gain


def judge_charcoal(
    gain_g: Decimal, used_s: int, limit_gain_g: Decimal, limit_hours: Decimal
) -> CharcoalJudgement:
    """Judge a canister by its gain (g) and its use (s); at a limit it is full, 0 is off.

    Source of the usual limits: ``logbook.limits``. Raises ``InputError`` for what cannot be.
    """
    require_within("gain", gain_g, -MOST_CANISTER_LOSS_G.value, MOST_CANISTER_G.value, "g")
    require_within("use", Decimal(used_s), Decimal(0), _MOST_USED_S, "s")
    require_within("gain limit", limit_gain_g, Decimal(0), MOST_CANISTER_G.value, "g")
    require_within("hours limit", limit_hours, Decimal(0), _MOST_HOURS, "h")
    return CharcoalJudgement(
        full_by_weight=limit_gain_g > 0 and gain_g >= limit_gain_g,
        full_by_hours=limit_hours > 0 and used_s >= limit_hours * 3600,
    )
