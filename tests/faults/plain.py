"""What a plain dictionary says of cases, checks, faults and returns: slow, short, and no SQL."""

from dataclasses import dataclass
from typing import Any

DAY_S = 86_400


@dataclass(frozen=True)
class Line:
    """What an entry says today: what it is, on which unit, from when, and the rest of it."""

    kind: str
    unit: str | None
    at_s: int
    more: Any


Lines = dict[int, Line | None]
"""By the number of an entry; None where it is withdrawn."""


def runs_into(lines: Lines, new: Line, own: int | None = None) -> bool:
    """Whether a case runs at the same time as another on its machine."""
    return any(
        one.at_s < new.more and new.at_s < one.more
        for seq, one in lines.items()
        if one and one.kind == "case" and one.unit == new.unit and seq != own
    )


def stopping(lines: Lines, unit: str) -> list[tuple[int, int]]:
    """When and by which entry a unit was put out of service, in order."""
    return sorted(
        (one.at_s, seq)
        for seq, one in lines.items()
        if one
        and one.unit == unit
        and ((one.kind == "fault" and one.more) or (one.kind == "check" and one.more == "failed"))
    )


def evidence(lines: Lines, unit: str, seq: int) -> tuple[int, int] | None:
    """When the check of an entry passed on a unit, and its number."""
    one = lines.get(seq)
    passed = one and (one.kind, one.unit, one.more) == ("check", unit, "passed")
    return (one.at_s, seq) if one and passed else None


def may_return(lines: Lines, new: Line) -> bool:
    """Whether an entry clears a unit: it lies between the last fault and the return."""
    seen = evidence(lines, str(new.unit), new.more)
    before = [one for one in stopping(lines, str(new.unit)) if one[0] <= new.at_s]
    return seen is not None and (not before or (before[-1] < seen and seen[0] <= new.at_s))


def out_of_service(lines: Lines, unit: str) -> list[int]:
    """The entries that keep a unit from use: no return stands whose evidence is later."""
    ends = [
        seen
        for one in lines.values()
        if one and (one.kind, one.unit) == ("return_to_service", unit)
        if (seen := evidence(lines, unit, one.more)) and seen[0] <= one.at_s
    ]
    return [
        seq for at_s, seq in stopping(lines, unit) if not any(end > (at_s, seq) for end in ends)
    ]
