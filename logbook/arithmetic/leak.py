"""Judging a leak test against the limit that counts; only like is compared with like.

A test is like its limit when it was made at the limit's pressure or up to 2 cmH2O above. A test
below leaks less than it would have, and one far above says nothing when it fails: neither is
judged. Whoever asks must treat "cannot judge" as not passed.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from logbook.arithmetic.constants import LIKE_PRESSURE_CMH2O, MOST_FLOW_ML_MIN, MOST_LEAK_CMH2O
from logbook.arithmetic.guards import require_above_zero, require_within
from logbook.units import format_decimal

# A gauge that is watched for longer than an hour was not watched.
MOST_HOLD_S = Decimal(3600)


class Verdict(StrEnum):
    """What a test says."""

    PASS = "pass"  # noqa: S105  A verdict, not a password.
    FAIL = "fail"
    CANNOT_JUDGE = "cannot judge"


@dataclass(frozen=True, slots=True)
class LeakJudgement:
    """A verdict and the sentence that says why."""

    verdict: Verdict
    why: str


def judge_leak_flow(
    pressure_cmh2o: Decimal,
    flow_ml_min: Decimal,
    limit_pressure_cmh2o: Decimal,
    limit_flow_ml_min: Decimal,
    *,
    limit_itself_passes: bool = True,
) -> LeakJudgement:
    """Judge the flow (mL/min) that was needed to hold a pressure (cmH2O).

    ``limit_itself_passes`` is false for a rule that says "under" the limit.
    Raises ``InputError`` for a reading or a limit that no machine has.
    """
    require_within("leak", flow_ml_min, Decimal(0), MOST_FLOW_ML_MIN.value, "mL/min")
    require_within("leak limit", limit_flow_ml_min, Decimal(0), MOST_FLOW_ML_MIN.value, "mL/min")
    if unlike := _unlike(pressure_cmh2o, limit_pressure_cmh2o):
        return unlike
    passes = flow_ml_min < limit_flow_ml_min or (
        limit_itself_passes and flow_ml_min == limit_flow_ml_min
    )
    return LeakJudgement(
        Verdict.PASS if passes else Verdict.FAIL,
        f"leak {format_decimal(flow_ml_min)} mL/min at {format_decimal(pressure_cmh2o)} cmH2O, "
        f"limit {'' if limit_itself_passes else 'under '}{format_decimal(limit_flow_ml_min)}",
    )


def judge_leak_hold(
    pressure_cmh2o: Decimal, hold_s: int, limit_pressure_cmh2o: Decimal, limit_hold_s: int
) -> LeakJudgement:
    """Judge for how many seconds a pressure (cmH2O) stayed fixed; the limit itself passes.

    Raises ``InputError`` for a reading or a limit that no test has.
    """
    require_within("hold", Decimal(hold_s), Decimal(0), MOST_HOLD_S, "s")
    require_above_zero("hold limit", Decimal(limit_hold_s), MOST_HOLD_S, "s")
    if unlike := _unlike(pressure_cmh2o, limit_pressure_cmh2o):
        return unlike
    return LeakJudgement(
        Verdict.PASS if hold_s >= limit_hold_s else Verdict.FAIL,
        f"held {hold_s} s at {format_decimal(pressure_cmh2o)} cmH2O, limit {limit_hold_s} s",
    )


def _unlike(pressure_cmh2o: Decimal, limit_cmh2o: Decimal) -> LeakJudgement | None:
    """Say that a test at this pressure cannot be judged, or nothing when it can."""
    require_within("pressure", pressure_cmh2o, Decimal(0), MOST_LEAK_CMH2O.value, "cmH2O")
    require_above_zero("pressure limit", limit_cmh2o, MOST_LEAK_CMH2O.value, "cmH2O")
    if 0 <= pressure_cmh2o - limit_cmh2o <= LIKE_PRESSURE_CMH2O.value:
        return None
    return LeakJudgement(
        Verdict.CANNOT_JUDGE,
        f"tested at {format_decimal(pressure_cmh2o)} cmH2O, but the limit counts at "
        f"{format_decimal(limit_cmh2o)}; test again at {format_decimal(limit_cmh2o)} cmH2O",
    )
