"""What became worse since somebody was told: the list of what is due, for whoever asks again."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from logbook.answers.due import Due
from logbook.answers.ground import (
    Changed,
    CheckedOn,
    DoneOn,
    Failed,
    Ground,
    Seen,
    Sent,
    Unused,
    VerifiedOn,
)
from logbook.answers.item import Clock, DueItem
from logbook.answers.standing import Standing

ClockKey = tuple[str, str, Clock]
"""A unit, the item on it, and what runs until that is due."""


@dataclass(frozen=True, slots=True)
class Told:
    """What was told at a moment: how each clock stood and the record on which that rested, and the
    entries of all that stood against a unit."""

    at: datetime
    clocks: Mapping[ClockKey, tuple[Standing, str]]
    against: frozenset[int]

    @classmethod
    def of(cls, at: datetime, answer: Due) -> "Told":
        """What an answer tells."""
        clocks = {_key(one): (one.standing, _record(one.reason)) for one in answer.items}
        faults = [one.fault for one in answer.stopped] + [one.fault for one in answer.noted]
        return cls(at, clocks, frozenset(one.entry for one in faults))


def worse(answer: Due, before: Told | None) -> Due:
    """What of an answer is worse than what was told; all that stands, where nothing was.

    A clock that began anew since counts as told in order: what is due of it is due anew.
    """
    clocks = before.clocks if before else {}
    against = before.against if before else frozenset()

    def told_rank(item: DueItem) -> int:
        standing, record = clocks.get(_key(item), (Standing.OK, ""))
        return _rank(standing) if record == _record(item.reason) else 0

    return replace(
        answer,
        items=[one for one in answer.items if _rank(one.standing) > told_rank(one)],
        stopped=[one for one in answer.stopped if one.fault.entry not in against],
        noted=[one for one in answer.noted if one.fault.entry not in against],
    )


def _rank(standing: Standing) -> int:
    return list(Standing).index(standing)


def _key(item: DueItem) -> ClockKey:
    return item.unit, item.item, item.clock


def _record(ground: Ground) -> str:
    """What names the record with which a clock began; nothing where its ground names none."""
    match ground:
        case Changed(at=begun) | Sent(since=begun) | DoneOn(day=begun) | CheckedOn(day=begun):
            return begun.isoformat()
        case VerifiedOn(day=begun) | Unused(day=begun):
            return begun.isoformat()
        case Seen(entry=number) | Failed(entry=number):
            return str(number)
    return ""
