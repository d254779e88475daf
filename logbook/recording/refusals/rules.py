"""What the clinic sets itself: limits that there are, and lists that are newer than the last."""

from typing import TYPE_CHECKING

from sqlalchemy import select

from logbook.errors import InputError, NotKnown
from logbook.limits import LIMITS
from logbook.projections import tables
from logbook.recording.refusals.claim import Claim
from logbook.units import shown

if TYPE_CHECKING:
    from logbook.entries.book import RuleChange
    from logbook.entries.check import ChecklistLoad


def rule(claim: "Claim[RuleChange]") -> None:
    """A limit that there is, and that is switched off only where it can be."""
    limit = claim.body.limit
    if limit not in LIMITS:
        raise NotKnown("limit", shown(limit), sorted(LIMITS))
    if claim.body.value == 0 and not LIMITS[limit].can_be_off:
        raise InputError(f"the limit {limit} has the value 0", "give a value above 0")


def checklist(claim: "Claim[ChecklistLoad]") -> None:
    """A list that bears its own name, under a version that is higher than the last."""
    from logbook.checklists import builtin, builtin_names
    from logbook.checklists.loading import check_text

    name, version = claim.body.checklist, claim.body.version
    read = check_text(claim.body.text)
    if (read.name, read.version) != (name, version):
        raise InputError(
            f"the text is that of the list {read.name}, version {read.version}, not of "
            f"{name}, version {version}",
            "give the name and version of the text",
        )
    known = tables.checklist
    query = select(known.c.entry).where(
        known.c.checklist == name, known.c.version >= version, known.c.entry != claim.own
    )
    clash = claim.connection.execute(query).scalar()
    newest_builtin = builtin(name).version if name in builtin_names() else 0
    if clash is not None or version <= newest_builtin:
        raise InputError(
            f"version {version} of the list {name} is not newer than the one known",
            "a version is never changed, so give a higher one",
        )
