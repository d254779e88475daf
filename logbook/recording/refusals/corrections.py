"""Corrections: of an entry that can be corrected, with content that could have happened."""

from typing import TYPE_CHECKING

from sqlalchemy import select

from logbook.errors import InputError
from logbook.ledger.store import Entry, known_entry
from logbook.projections import tables
from logbook.projections.project import NEVER_CORRECTED, counting
from logbook.recording.refusals.claim import Claim, refuse_time
from logbook.recording.refusals.content import refuse_content
from logbook.recording.refusals.equipment import BRINGS_ITS_UNIT
from logbook.recording.refusals.people import refuse_signer

if TYPE_CHECKING:
    from logbook.entries.book import Correction


def correction(claim: "Claim[Correction]") -> None:
    """Refuse a correction of what is not corrected, or by what cannot have happened."""
    from logbook.entries import model

    body = claim.body
    target = known_entry(claim.connection, body.corrects)
    refuse_never_corrected(target)
    if body.by is not None:
        refuse_signer(claim.connection, body.by)
    if target.kind in BRINGS_ITS_UNIT:
        _refuse_while_named(claim, target)
    if target.kind == "check":
        _refuse_while_carried(claim, target)
    if body.body is None or body.happened_at is None:
        return
    content = model(target.kind).of(**body.body)
    refuse_time(claim.connection, body.happened_at, claim.now)
    refuse_content(Claim(claim.connection, content, body.happened_at, claim.now, own=target.seq))


def refuse_never_corrected(target: Entry) -> None:
    """Refuse to correct what is put right by a new entry of its own."""
    if target.kind in NEVER_CORRECTED:
        raise InputError(
            f"entry {target.seq} is a {target.kind} entry, which is not corrected",
            "correct the entry it is about, or record a new one",
        )


def _refuse_while_named(claim: "Claim[Correction]", target: Entry) -> None:
    """A machine or vaporizer that other entries name can neither go nor get another tag."""
    from logbook.entries.base import NAMES

    now = counting(claim.connection, target.seq)
    tag = now.body.names()[target.kind] if now else None
    if tag is None or (claim.body.body or {}).get(target.kind) == tag:
        return
    columns = (column for table in tables.projected.sorted_tables for column in table.columns)
    for column in columns:
        if column.name in NAMES:
            entry = column.table.c.entry
            query = select(entry).where(column == tag, entry != target.seq).limit(1)
            naming = claim.connection.execute(query).scalar()
            if naming is not None:
                raise InputError(f"entry {naming} names {tag}", "withdraw or correct it first")


def _refuse_while_carried(claim: "Claim[Correction]", target: Entry) -> None:
    """Nobody saw what a later check carries over from a check that no longer says so."""
    now = counting(claim.connection, target.seq)
    again = select(tables.check.c.entry).where(tables.check.c.again_of == target.seq).limit(1)
    carrying = claim.connection.execute(again).scalar()
    if now is None or carrying is None:
        return
    told = (claim.body.body or {}).get("answers")
    if told != now.body.model_dump(mode="json", exclude_none=True)["answers"]:
        raise InputError(f"check {carrying} carries its answers over", "withdraw that one first")
