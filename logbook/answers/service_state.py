"""Whether a unit is out of service, and whether a machine was checked today."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, select, tuple_

from logbook.answers.moment import Moment
from logbook.ledger.schema import entry
from logbook.projections.lookup import evidence_s
from logbook.projections.tables import check, fault, return_to_service
from logbook.times import local_text, utc_from_epoch_s

DAILY_LIST = "daily"


@dataclass(frozen=True, slots=True)
class OpenFault:
    """A fault that puts a unit out of service and that no return has ended."""

    entry: int
    unit: str
    what: str
    detail: str | None
    at: datetime

    def sentence(self, zone: ZoneInfo) -> str:
        """What keeps the unit from use, since when, and where it is written."""
        detail = f", {self.detail}" if self.detail else ""
        since = local_text(self.at, zone)
        return f"{self.unit} out of service since {since}: {self.what}{detail} (entry {self.entry})"


@dataclass(frozen=True, slots=True)
class CheckDone:
    """A check that was walked, by whom, and what came of it."""

    entry: int
    verdict: str
    by: str
    at: datetime


def open_faults(connection: Connection, unit: str, at_s: int) -> list[OpenFault]:
    """The stopping faults of a unit that no return to service has ended, oldest first.

    A return ends the faults before its evidence. Where the evidence is withdrawn, or a fault
    between the two is told late, the unit is out of service again.
    """
    back = return_to_service
    seen_s = evidence_s(back.c.unit, back.c.evidence_entry)
    ended = select(back.c.entry).where(
        back.c.unit == unit,
        back.c.at_s <= at_s,
        seen_s <= back.c.at_s,
        # What happened in the same second is told apart by the order of writing.
        tuple_(seen_s, back.c.evidence_entry) > tuple_(fault.c.at_s, fault.c.entry),
    )
    query = select(fault).where(
        fault.c.unit == unit, fault.c.stops == 1, fault.c.at_s <= at_s, ~ended.exists()
    )
    return [
        OpenFault(row.entry, row.unit, row.what, row.detail, utc_from_epoch_s(row.at_s))
        for row in connection.execute(query.order_by(fault.c.at_s, fault.c.entry))
    ]


def check_today(connection: Connection, machine: str, moment: Moment) -> CheckDone | None:
    """The last daily check of the moment's calendar day, up to the moment."""
    query = (
        select(check, entry.c.by)
        .join(entry, entry.c.seq == check.c.entry)
        .where(
            check.c.machine == machine,
            check.c.checklist == DAILY_LIST,
            check.c.at_s >= moment.day_began_s(moment.day),
            check.c.at_s <= moment.at_s,
        )
        .order_by(check.c.at_s.desc(), check.c.entry.desc())
    )
    row = connection.execute(query.limit(1)).first()
    return CheckDone(row.entry, row.verdict, row.by, utc_from_epoch_s(row.at_s)) if row else None
