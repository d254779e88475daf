"""On what a line of the list of what is due rests: values, which a sheet words."""

from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from logbook.answers.recorded import IN_TIME, Recorded
from logbook.errors import InputError
from logbook.value import Value
from logbook.vocabulary import AbsorbentKind


class Missing(StrEnum):
    """What nobody wrote down."""

    CHANGE = "change"
    CHECK = "check"
    SERVICE = "service"
    SERVICE_PLAN = "service plan"


class NotRecorded(Value):
    """Nothing: nobody wrote it down."""

    missing: Missing


class Changed(Value):
    """The last change, and when what was filled in expires; the time is the clinic's own."""

    at: datetime
    expires: date | None = None
    recorded: Recorded = IN_TIME


class DoneOn(Value):
    """The day of the last service."""

    day: date
    recorded: Recorded = IN_TIME


class VerifiedOn(Value):
    """The day of the last output verification, and the months for which it lasts at most."""

    day: date
    months: int
    recorded: Recorded = IN_TIME


class Unused(Value):
    """The days for which a vaporizer ran no case, and the day of its last output verification."""

    days: int
    day: date
    recorded: Recorded = IN_TIME


class CheckedOn(Value):
    """The day of the last check by a list, and what came of it."""

    day: date
    verdict: str
    recorded: Recorded = IN_TIME


class Charged(Value):
    """The grams and kind of absorbent; the least and most litres of carbon dioxide that reached it
    by the flows, None where nobody asked; the seconds of patients of no known weight, left out."""

    mass_g: Decimal
    kind: AbsorbentKind
    reached_l: tuple[Decimal, Decimal] | None
    unweighed_s: int


class Sent(Value):
    """All agent that cases sent since a canister was ``weighed``, else since it was changed; cases
    that told no flow or dial are left out."""

    since: datetime
    weighed: bool
    untold_cases: int


class Seen(Value):
    """Granules that mean exhausted absorbent, as a check saw them."""

    granules: str
    day: date
    entry: int
    recorded: Recorded = IN_TIME


class Failed(Value):
    """The service that failed."""

    day: date
    entry: int
    recorded: Recorded = IN_TIME


class RuleEnded(Value):
    """The rhythm of a plan has come to its end: nobody knows when to look again."""

    error: InputError


Ground = (
    NotRecorded | Changed | DoneOn | VerifiedOn | Unused | CheckedOn | Charged | Sent | Seen
    | Failed | RuleEnded
)  # fmt: skip


def late_s_of(ground: Ground) -> int | None:
    """How many seconds afterwards it was recorded on what a line rests; None where soon enough."""
    match ground:
        case Changed() | DoneOn() | VerifiedOn() | Unused() | CheckedOn() | Seen() | Failed():
            return ground.recorded.late_s
    return None
