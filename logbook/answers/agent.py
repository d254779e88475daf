"""Liquid agent: how much is probably left in a vaporizer."""

from datetime import date, datetime
from decimal import Decimal

from logbook.answers.item import Asked
from logbook.answers.recorded import IN_TIME, Recorded
from logbook.answers.spans import Use
from logbook.projections.lookup import VaporizerView
from logbook.times import utc_from_epoch_s
from logbook.value import Value


class AgentLeft(Value):
    """The estimate: ``held_ml``, the last level and what was poured in since, less the use since
    the day ``last_on``; None without a level on record."""

    left_ml: Decimal | None
    last_at: datetime | None
    used_ml: Decimal
    untold_cases: int
    low: bool
    held_ml: Decimal | None = None
    last_on: date | None = None
    recorded: Recorded = IN_TIME


def agent_left(asked: Asked, view: VaporizerView) -> AgentLeft:
    """What is probably left in a vaporizer at the moment asked for.

    A fill that tells only what was added stands on the estimate before it.
    """
    added_ml = Decimal(0)
    for level in reversed(asked.known.levels.get(view.vaporizer, [])):
        if level.level_ml is not None:
            use = asked.known.used.get(level.entry, Use())
            held_ml, day = level.level_ml + added_ml, asked.moment.day_of(level.at_s)
            left_ml = max(held_ml - use.agent_ml, Decimal(0))
            low = view.low_mark_ml is not None and left_ml <= view.low_mark_ml
            since = utc_from_epoch_s(level.at_s)
            return AgentLeft(
                left_ml,
                since,
                use.agent_ml,
                use.untold_cases,
                low,
                held_ml,
                day,
                level.recorded,
            )
        added_ml += level.added_ml or 0
    return AgentLeft(None, None, Decimal(0), 0, low=False)
