"""The clinic, and who signs in it: initials that are known, each given out once."""

from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from logbook.clock import EARLIEST, zone_named
from logbook.errors import Act, InputError, NotKnown
from logbook.projections import tables
from logbook.recording.refusals.claim import Claim
from logbook.units import shown

if TYPE_CHECKING:
    from logbook.entries.clinic import Clinic, Staff


def refuse_signer(connection: Connection, by: str) -> None:
    """Refuse initials that nobody here has; an entry that nobody signs is none of these.

    Raises:
        NotKnown: it names the initials, and those that are known.
    """
    known = connection.execute(select(tables.staff.c.initials)).scalars().all()
    if by and by not in known:
        wrong = f"nobody here signs as {shown(by)}"
        # Letters of another script that look alike are a slip, and no new person's.
        act = Act.ADD_PERSON if by.isascii() else None
        raise NotKnown("person", shown(by), sorted(known), wrong=wrong, act=act)


def clinic(claim: "Claim[Clinic]") -> None:
    """A logbook begins on a day that has been."""
    since, today = claim.body.since, claim.now.astimezone(zone_named(claim.body.timezone)).date()
    if since is None:
        return
    if since > today:
        raise InputError(f"the first day {since} lies in the future", "give a day up to today")
    if since.year < EARLIEST.year:
        raise InputError(f"the first day {since} lies before the year 2000", "check the date")


def staff(claim: "Claim[Staff]") -> None:
    """Initials are given out once."""
    initials = claim.body.initials
    query = select(tables.staff.c.entry).where(tables.staff.c.initials == initials)
    known = claim.connection.execute(query).scalar()
    if known is not None and known != claim.own:
        raise InputError(f"the initials {initials} are taken", "choose others, such as a digit")
