"""A check that somebody walks, or left, in one sentence."""

from datetime import datetime
from decimal import Decimal

from logbook.answers.unfinished import Unfinished
from logbook.times import local_text
from logbook.units import format_decimal


def unfinished_text(begun: Unfinished, now: datetime, limit_h: Decimal) -> str:
    """Who began it and when, how far it is, who walks it now, and whether it has ended.

    Times are told as the clock of ``now`` shows them.
    """
    what = f"the {begun.checklist} check of {begun.machine}"
    if begun.again_of is not None:
        what = f"items of {what} (entry {begun.again_of}) again"
    items = f"{len(begun.kept)} item{'' if len(begun.kept) == 1 else 's'}"
    zone = now.tzinfo
    parts = [
        f"{begun.begun_by} began {what} at {local_text(begun.begun_at, zone)}",
        f"{items} answered, the last at {local_text(begun.last_at, zone)[11:16]}",
    ]
    if begun.walked_by != begun.begun_by:
        parts.append(f"{begun.walked_by} walks it now")
    if begun.has_ended(now, limit_h):
        parts.append(f"it ended after {format_decimal(limit_h)} h without being finished")
    return "; ".join(parts)
