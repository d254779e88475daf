"""What the last checks of each kind tell of some machines up to a moment."""

from collections.abc import Callable, Iterable, Mapping
from functools import cached_property
from typing import Any

from sqlalchemy import Row

from logbook.answers.facts import CheckDone, PopOff
from logbook.answers.ground import CheckedOn
from logbook.answers.moment import Moment
from logbook.answers.recorded import Recorded
from logbook.projections.lookup import MachineView, newest
from logbook.projections.tables import case, check, machine
from logbook.times import utc_from_epoch_s

DAILY_LIST = "daily"


class LastChecks:
    """The newest check of each kind that a question asks for, read once for all machines.

    ``rows`` reads a statement for the machines it is given, ``how_late`` tells from when something
    happened, and from when that was recorded, how late it was.
    """

    def __init__(
        self, machines: Mapping[str, MachineView], lists: Iterable[str], moment: Moment,
        rows: Callable[[Any, Mapping[str, Any]], Iterable[Row[Any]]],
        how_late: Callable[[int, str], Recorded],
    ) -> None:  # fmt: skip
        self._machines, self._lists, self._moment = machines, lists, moment
        self._rows, self._how_late = rows, how_late

    @cached_property
    def _newest(self) -> dict[tuple[str, str], Row[Any]]:
        """The newest check of each kind, by machine and kind."""
        kinds: dict[str, Any] = {
            "today": (check.c.checklist == DAILY_LIST,),
            "leak": (check.c.leak_passed == 1,),
            "pop-off": (check.c.pop_off_open.is_not(None),),
        }
        for name in self._lists:
            complete = check.c.verdict != "incomplete"
            kinds[f"list {name}"] = (check.c.checklist == name, complete)
        query = newest(check, machine, **kinds)
        return {(row.machine, row.which): row for row in self._rows(query, self._machines)}

    def today(self, tag: str) -> CheckDone | None:
        """The last daily check of the moment's calendar day, up to the moment."""
        row = self._newest.get((tag, "today"))
        if row is None or row.at_s < self._moment.day_began_s(self._moment.day):
            return None
        late_s = self._how_late(row.at_s, row.recorded_at).late_s
        return CheckDone(row.entry, row.verdict, row.by, utc_from_epoch_s(row.at_s), late_s)

    def last(self, tag: str, name: str) -> CheckedOn | None:
        """When a list was last walked to its end, and the verdict."""
        row = self._newest.get((tag, f"list {name}"))
        if row is None:
            return None
        how = self._how_late(row.at_s, row.recorded_at)
        return CheckedOn(self._moment.day_of(row.at_s), row.verdict, how)

    def leak_tested_s(self, tag: str) -> int | None:
        """When the last leak test of the breathing system passed; None where none is recorded."""
        row = self._newest.get((tag, "leak"))
        return None if row is None else row.at_s

    @cached_property
    def _pop_off_of_cases(self) -> dict[str, Row[Any]]:
        told = case.c.pop_off_open.is_not(None)
        query = newest(case, machine, "began_s", told=(told,))
        return {row.machine: row for row in self._rows(query, self._machines)}

    def pop_off(self, tag: str) -> PopOff | None:
        """The pop-off valve as last recorded: in a check, or when a case was begun."""
        seen, begun = self._newest.get((tag, "pop-off")), self._pop_off_of_cases.get(tag)
        if begun is not None and (seen is None or begun.began_s >= seen.at_s):
            return self._seen(begun, begun.began_s)
        return None if seen is None else self._seen(seen, seen.at_s)

    def _seen(self, row: Row[Any], at_s: int) -> PopOff:
        how = self._how_late(at_s, row.recorded_at)
        return PopOff(bool(row.pop_off_open), row.entry, utc_from_epoch_s(at_s), how)
