"""What a pressure test decides by the pressure that was read: only what physics decides.

A test at a higher pressure that passes has passed at the lower one, and one at a lower pressure
that fails has failed at the higher one; between, a flow is scaled by both ways in which leaks grow.
"""

from decimal import Decimal
from typing import NamedTuple

from logbook.arithmetic.constants import GAUGE_STEP_CMH2O, LEAST_TEST_SHARE
from logbook.arithmetic.leak import bounds_at, leak_of_fall
from logbook.checklists.model import State
from logbook.errors import InputError
from logbook.units import format_decimal


class Limit(NamedTuple):
    """A limit by its name and value, and the pressure in cmH2O at which it counts."""

    name: str
    value: Decimal
    at_cmh2o: Decimal


class Timed(NamedTuple):
    """A fall that was timed: its seconds, the pressure in cmH2O at its begin, and at its end."""

    seconds: int
    begin_cmh2o: Decimal
    end_cmh2o: Decimal | None


class Decided(NamedTuple):
    """What a test comes to; without a state nothing is decided.

    ``allowed`` is the bound that judged it, in ``unit`` at ``pressure_cmh2o``: the least seconds,
    or the most mL/min, beside which the flow stands that a fall means.
    """

    state: State | None
    finding: str
    limit: str = ""
    allowed: Decimal | None = None
    unit: str = ""
    pressure_cmh2o: Decimal | None = None
    leak_ml_min: Decimal | None = None


def by_flow(flow_ml_min: Decimal, read_cmh2o: Decimal, limit: Limit) -> Decided:
    """What a flow decides that held the pressure that was read."""
    passes, fails = bounds_at(limit.value, limit.at_cmh2o, read_cmh2o)
    seen = f"{_plain(flow_ml_min)} mL/min at {_plain(read_cmh2o)} cmH2O"
    rule = f"{_plain(limit.value)} at {_plain(limit.at_cmh2o)} cmH2O"

    def decided(state: State, most: Decimal) -> Decided:
        there = "" if read_cmh2o == limit.at_cmh2o else f" there ({rule})"
        found = f"{seen}, limit {_plain(most)}{there}"
        return Decided(state, found, limit.name, most, "mL/min", read_cmh2o)

    if flow_ml_min > fails:
        return decided("failed", fails)
    if flow_ml_min <= passes and not _too_low(read_cmh2o, limit):
        return decided("passed", passes)
    return Decided(
        None,
        f"{seen} cannot be judged by {rule}: there at most {_plain(passes)} passes, above "
        f"{_plain(fails)} fails; test at {_plain(limit.at_cmh2o)} cmH2O",
    )


def by_fall(
    timed: Timed, hold: Limit, leak: Limit | None, compliance_ml_cmh2o: Decimal | None
) -> Decided:
    """What a timed fall decides: with the compliance on record in mL/min, else by the time in which
    the pressure must not fall. Without a pressure at the end it held so long and then fell.

    Raises:
        InputError: the pressure at the end is above that at the begin.
    """
    begin, end = timed.begin_cmh2o, timed.end_cmh2o
    if end is not None and end > begin:
        raise InputError(
            f"the pressure at the end, {_plain(end)} cmH2O, is above {_plain(begin)} at the begin",
            "read both again",
        )
    if leak and compliance_ml_cmh2o and end is not None and timed.seconds:
        found = _in_ml_min(timed, begin, end, leak, compliance_ml_cmh2o)
        if found.state or end < begin:
            return found
    if end is not None and end < begin:
        return _by_what_fell(timed, begin - end, hold)
    return _by_time(timed, hold, compliance_ml_cmh2o)


def _in_ml_min(
    timed: Timed, begin: Decimal, end: Decimal, limit: Limit, compliance: Decimal
) -> Decided:
    fall = leak_of_fall(compliance, begin, end, timed.seconds)
    passes = bounds_at(limit.value, limit.at_cmh2o, end).passes
    fails = bounds_at(limit.value, limit.at_cmh2o, begin).fails
    seen = f"{_plain(begin)} to {_plain(end)} cmH2O in {timed.seconds} s"
    if fall.most <= passes and not _too_low(end, limit):
        told = f"{seen}: at most {_plain(fall.most)} mL/min, limit {_plain(passes)} there"
        return Decided("passed", told, limit.name, passes, "mL/min", end, fall.most)
    if fall.read > fails:
        told = f"{seen}: about {_plain(fall.read)} mL/min, limit {_plain(fails)} there"
        return Decided("failed", told, limit.name, fails, "mL/min", begin, fall.read)
    return Decided(
        None,
        f"{seen} cannot be judged: {_plain(fall.read)} to {_plain(fall.most)} mL/min; "
        f"time it longer, from {_plain(limit.at_cmh2o)} cmH2O",
    )


def _by_time(timed: Timed, hold: Limit, compliance_ml_cmh2o: Decimal | None) -> Decided:
    """Whether the pressure stayed for the time that it must."""
    begin, at = timed.begin_cmh2o, hold.at_cmh2o
    seen = f"held {timed.seconds} s at {_plain(begin)} cmH2O"
    rule = f"{seen}, at least {_plain(hold.value)}"
    if timed.seconds >= hold.value and begin >= at:
        told = f"{rule}; {_shows(timed.seconds, compliance_ml_cmh2o)}"
        return Decided("passed", told, hold.name, hold.value, "s", begin)
    if timed.seconds < hold.value and begin <= at and timed.end_cmh2o is None:
        return Decided("failed", rule, hold.name, hold.value, "s", begin)
    return _undecided(seen, hold)


def _by_what_fell(timed: Timed, fell_cmh2o: Decimal, hold: Limit) -> Decided:
    """Whether a fall would have been seen within the time in which the pressure must stay.

    A fall slows down as it goes: what it is on the average of a longer time, it was at first.
    """
    begin, end = timed.begin_cmh2o, timed.begin_cmh2o - fell_cmh2o
    seen = f"fell from {_plain(begin)} to {_plain(end)} cmH2O in {timed.seconds} s"
    time = max(hold.value, Decimal(timed.seconds))
    if begin <= hold.at_cmh2o and fell_cmh2o * hold.value >= GAUGE_STEP_CMH2O.value * time:
        told = f"{seen}, at least {_plain(hold.value)} without a fall"
        return Decided("failed", told, pressure_cmh2o=begin)
    return _undecided(seen, hold)


def _undecided(seen: str, hold: Limit) -> Decided:
    rule = f"time {_plain(hold.value)} s from {_plain(hold.at_cmh2o)} cmH2O"
    return Decided(None, f"{seen} cannot be judged: {rule}")


def _shows(seconds: int, compliance_ml_cmh2o: Decimal | None) -> str:
    """What a time without a fall can show at all."""
    if compliance_ml_cmh2o is None:
        return "it shows a large leak only"
    hidden = leak_of_fall(compliance_ml_cmh2o, Decimal(0), Decimal(0), seconds).most
    return f"a leak below about {_plain(hidden)} mL/min does not show"


def _too_low(read_cmh2o: Decimal, limit: Limit) -> bool:
    """Whether so little of the test's pressure was reached that nothing can pass by it."""
    return read_cmh2o < limit.at_cmh2o * LEAST_TEST_SHARE.value


def _plain(value: Decimal) -> str:
    return format_decimal(round(value, 2))
