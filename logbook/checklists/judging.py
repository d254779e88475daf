"""What an answer means: measured values are judged by the limits in force, all the rest is said."""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import get_args

from logbook.arithmetic.allowed import Allowed, about
from logbook.arithmetic.oxygen import measured
from logbook.checklists.leak_test import Decided, Limit, Timed, by_fall, by_flow
from logbook.checklists.model import Answer, Item, Judged, State
from logbook.errors import InputError
from logbook.value import Value
from logbook.vocabulary import LONGEST_HOLD_S, PRESSURE_CMH2O

_NUMBER = re.compile(r"[0-9]{1,12}(\.[0-9]{1,6})?")
Limits = Mapping[str, Decimal]


def judge(
    item: Item, answer: Answer, limits: Limits, compliance_ml_cmh2o: Decimal | None = None
) -> Judged:
    """Judge one answer by the limits in force, which are given by name.

    A timed fall is told in mL/min by the compliance of the breathing system, where it is known.

    Raises:
        InputError: the answer does not fit the item; nothing is guessed.
    """
    if answer.state is not None and answer.state not in get_args(State):
        states = ", ".join(get_args(State))
        raise InputError(f"item {item.key} cannot be {answer.state!a:.40}; say one of: {states}")
    if answer.state in ("not done", "not fitted"):
        return _not_looked_at(item, answer, answer.state)
    if item.kind == "tick":
        return _tick(item, answer)
    if item.kind == "choice":
        return _choice(item, answer)
    return _measured(item, answer, limits, compliance_ml_cmh2o)


def _with_reason(text: str, reason: str | None) -> str:
    return f"{text}: {reason}" if reason else text


def _not_looked_at(item: Item, answer: Answer, state: State) -> Judged:
    if answer.value is not None or answer.held_s is not None:
        raise InputError(f"item {item.key} is {state}, so it has no value; leave one of them out")
    if state == "not done" and not (answer.reason and answer.reason.strip()):
        raise InputError(f"item {item.key} is not done, so it needs a reason; say why")
    if state == "not fitted" and item.fits is None:
        raise InputError(
            f"item {item.key} is part of every machine, so it cannot be left out as not fitted; "
            "say failed, or not done with a reason"
        )
    return Judged(state, _with_reason(state, answer.reason))


def _tick(item: Item, answer: Answer) -> Judged:
    if answer.state is None:
        raise InputError(f"item {item.key} needs passed, failed, or not done with a reason")
    if answer.value is not None or answer.unit is not None or answer.held_s is not None:
        raise InputError(f"item {item.key} has nothing to measure; say passed or failed")
    failed = answer.state == "failed"
    return Judged(
        answer.state, _with_reason(answer.state, answer.reason), stops=failed and item.stops
    )


def _choice(item: Item, answer: Answer) -> Judged:
    word = answer.value
    if word is None or word not in item.choices or answer.unit or answer.held_s is not None:
        raise InputError(f"item {item.key} needs one of: {', '.join(item.choices)}")
    state: State = "passed" if word in item.passing else "failed"
    _agrees(item, answer, state, word)
    return Judged(
        state,
        _with_reason(word, answer.reason),
        stops=state == "failed" and item.stops,
        absorbent_due=word in item.absorbent_due,
    )


def _agrees(item: Item, answer: Answer, state: State, finding: str) -> None:
    """A person who says "failed" saw something; what was measured must not talk them out of it."""
    if answer.state == "failed" and state == "passed":
        raise InputError(
            f"item {item.key} is said to have failed, but it would pass ({finding}); "
            "check it again, or report a fault"
        )


class _Rule(Value):
    """The limit that judges a measurement, and what it allows; without one it is only recorded."""

    name: str | None
    value: Decimal | None
    allowed: Allowed

    def words(self) -> str:
        low, high = self.allowed.low, self.allowed.high
        if low is not None and high is not None:
            return f", allowed {low:f} to {high:f}"
        if low is not None:
            return f", at least {low:f}"
        return f", limit {high:f}" if high is not None else ", recorded"


def _measured(
    item: Item, answer: Answer, limits: Limits, compliance_ml_cmh2o: Decimal | None
) -> Judged:
    _fits_item(item, answer)
    if answer.held_s is not None:
        if not 0 <= answer.held_s <= LONGEST_HOLD_S:
            raise InputError(
                f"item {item.key} held {answer.held_s} s; give 0 to {LONGEST_HOLD_S} s"
            )
        if answer.pressure_cmh2o is not None and (item.or_hold or item.at_least):
            return _timed(item, answer, limits, compliance_ml_cmh2o)
        return _by_rule(item, answer, limits, Decimal(answer.held_s))
    if answer.value is not None:
        if not _NUMBER.fullmatch(answer.value):
            raise InputError(
                f"item {item.key} has the value {answer.value!a:.40}; write it like 2.5"
            )
        if answer.pressure_cmh2o is not None and item.unit == "mL/min" and item.at_most:
            read = _pressure(item, answer.pressure_cmh2o)
            flow = by_flow(Decimal(answer.value), read, _at(item, item.at_most, limits))
            return _decided(item, answer, flow)
        return _by_rule(item, answer, limits, Decimal(answer.value))
    if answer.state == "failed":
        # A gauge that does not move or a bag that never fills is a failure without a number.
        return Judged("failed", _with_reason("failed, no value", answer.reason), stops=item.stops)
    raise InputError(f"item {item.key} needs {_takes(item)}; a tick is not enough")


def _takes(item: Item) -> str:
    if item.kind == "hold":
        return "the seconds held"
    return f"a value in {item.unit}" + (" or the seconds held" if item.or_hold else "")


def _fits_item(item: Item, answer: Answer) -> None:
    """The answer is in the unit of the item, and timed only where the item can be timed."""
    timed = answer.held_s is not None
    if timed and answer.value is not None:
        raise InputError(f"item {item.key} has a value and seconds held; give one of them")
    can_be_timed = item.kind == "hold" or item.or_hold is not None
    if (timed and not can_be_timed) or (item.kind == "hold" and answer.value is not None):
        raise InputError(f"item {item.key} needs {_takes(item)}")
    told = (answer.pressure_cmh2o, answer.end_pressure_cmh2o)
    if any(told) and (item.pressure is None or (answer.value is None and not timed)):
        raise InputError(f"item {item.key} is no pressure that was tested; leave the pressure out")
    if answer.end_pressure_cmh2o is not None and not (timed and answer.pressure_cmh2o):
        raise InputError(f"item {item.key} ends at a pressure; tell the one at its begin, too")
    if answer.value is not None and answer.unit != item.unit:
        given = answer.unit or "no unit"
        raise InputError(f"item {item.key} has {given:.40}; give its value in {item.unit}")


def _timed(
    item: Item, answer: Answer, limits: Limits, compliance_ml_cmh2o: Decimal | None
) -> Judged:
    """A fall that was timed from a pressure that was read."""
    end = answer.end_pressure_cmh2o
    timed = Timed(
        answer.held_s or 0,
        _pressure(item, answer.pressure_cmh2o or ""),
        None if end is None else _pressure(item, end),
    )
    hold = _at(item, item.or_hold or item.at_least or "", limits)
    leak = _at(item, item.at_most, limits) if item.unit == "mL/min" and item.at_most else None
    return _decided(item, answer, by_fall(timed, hold, leak, compliance_ml_cmh2o))


def _at(item: Item, name: str, limits: Limits) -> Limit:
    return Limit(name, _limit(item, name, limits), _limit(item, item.pressure or "", limits))


def _pressure(item: Item, text: str) -> Decimal:
    least, most, unit, _ = PRESSURE_CMH2O
    if not _NUMBER.fullmatch(text) or not least < Decimal(text) <= most:
        raise InputError(
            f"item {item.key} was tested at {text!a:.40}; give above 0 to {most} {unit}"
        )
    return Decimal(text)


def _decided(item: Item, answer: Answer, found: Decided) -> Judged:
    """A test by its read pressure; one that decides nothing is as good as not done."""
    state: State = found.state or ("failed" if answer.state == "failed" else "not done")
    if found.state is not None:
        _agrees(item, answer, found.state, found.finding)
    least = found.unit == "s"
    return Judged(
        state,
        _with_reason(found.finding, answer.reason),
        limit_name=found.limit or None,
        limit_value=found.allowed,
        limit_unit=found.unit if found.limit else None,
        low=found.allowed if least else None,
        high=None if least else found.allowed,
        pressure_cmh2o=found.pressure_cmh2o,
        leak_ml_min=found.leak_ml_min,
        reason=found.finding if found.state is None else None,
        stops=state == "failed" and item.stops,
    )


def _by_rule(item: Item, answer: Answer, limits: Limits, found: Decimal) -> Judged:
    held = answer.held_s is not None
    rule = _rule(item, limits, instead=held and item.kind == "number")
    unit = "s" if held else item.unit
    pressure = _limit(item, item.pressure, limits) if item.pressure else None
    at = f" at {pressure:f} cmH2O, pressure not told" if pressure is not None else ""
    if answer.pressure_cmh2o is not None:
        at = f" at {_pressure(item, answer.pressure_cmh2o):f} cmH2O"
    seen = f"held {found:f} s" if held else measured(found, unit)
    finding = f"{seen}{rule.words()}{at}"
    state: State = "passed" if rule.allowed.includes(found) else "failed"
    if rule.name is not None:
        _agrees(item, answer, state, finding)
    elif answer.state is not None:
        state = answer.state
    return Judged(
        state,
        _with_reason(finding, answer.reason),
        limit_name=rule.name,
        limit_value=rule.value,
        limit_unit=unit if rule.name else None,
        low=rule.allowed.low,
        high=rule.allowed.high,
        pressure_cmh2o=pressure,
        stops=state == "failed" and _stops_at(item, limits, found),
    )


def _stops_at(item: Item, limits: Limits, found: Decimal) -> bool:
    if item.stops_below is None:
        return item.stops
    return found < _limit(item, item.stops_below, limits)


def _rule(item: Item, limits: Limits, *, instead: bool) -> _Rule:
    """The one rule of the item; a timed hold instead of its number has its own."""
    least = item.or_hold if instead else item.at_least
    if least is not None:
        value = _limit(item, least, limits)
        return _Rule(least, value, Allowed(low=value))
    if item.at_most is not None:
        value = _limit(item, item.at_most, limits)
        return _Rule(item.at_most, value, Allowed(high=value))
    if item.about is not None and item.within is not None:
        value, spread = _limit(item, item.about, limits), _limit(item, item.within, limits)
        return _Rule(item.about, value, about(value, spread))
    return _Rule(None, None, Allowed())


def _limit(item: Item, name: str, limits: Limits) -> Decimal:
    if name not in limits:
        raise InputError(f"item {item.key} is judged by the limit {name}, which is not set")
    return limits[name]
