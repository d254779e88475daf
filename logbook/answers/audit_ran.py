"""The cases that an audit looks at, and how long what ran in all: a long span has thousands."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from operator import attrgetter

from logbook.vocabulary import LONGEST_CASE_S

_BEGAN = attrgetter("began_s")


@dataclass(frozen=True, slots=True)
class RanCase:
    """A case of the span, or one that ran into it. One that still runs ends now."""

    entry: int
    machine: str
    began_s: int
    ended_s: int
    circuit: str
    vaporizers: tuple[str, ...]
    by: str
    recorded_s: int


def during(cases: Sequence[RanCase], from_s: int, to_s: int) -> Sequence[RanCase]:
    """Of cases in order of their begin, those that began before an instant, and no longer before
    another than a case lasts."""
    first = bisect_left(cases, from_s - LONGEST_CASE_S, key=_BEGAN)
    return cases[first : bisect_left(cases, to_s, key=_BEGAN)]


@dataclass(frozen=True, slots=True)
class RanInAll:
    """Cases in order of their begin, with the seconds of all before each of them."""

    cases: Sequence[RanCase]
    before_s: Sequence[int]

    @classmethod
    def of(cls, cases: Sequence[RanCase]) -> "RanInAll":
        """The sums over some cases."""
        return cls(cases, [0, *accumulate(one.ended_s - one.began_s for one in cases)])

    def seconds(self, from_s: int, to_s: int) -> int:
        """The seconds that lie between two instants: of most cases all, which were added up."""
        inside = bisect_left(self.cases, from_s, key=_BEGAN)
        last = max(inside, bisect_left(self.cases, to_s - LONGEST_CASE_S, key=_BEGAN))
        at_begin = during(self.cases[:inside], from_s, to_s)
        at_end = self.cases[last : bisect_left(self.cases, to_s, key=_BEGAN)]
        return (
            self.before_s[last]
            - self.before_s[inside]
            + sum(
                max(0, min(one.ended_s, to_s) - max(one.began_s, from_s))
                for one in (*at_begin, *at_end)
            )
        )
