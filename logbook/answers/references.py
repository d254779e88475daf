"""Where the reference of a case's patient stands, and what it is."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, NamedTuple, cast

from sqlalchemy import Connection, select

from logbook.entries.book import Correction
from logbook.errors import InputError
from logbook.ledger.schema import reference
from logbook.ledger.store import Entry, known_entry, read_entry
from logbook.projections.project import counting
from logbook.projections.tables import correction


class Held(StrEnum):
    """Where a reference stands."""

    BESIDE = "beside the chain"
    IN_ENTRY = "in the entry"
    ERASED = "erased"


@dataclass(frozen=True, slots=True)
class Reference:
    """The reference of a case: where it is held, the text and its salt where they are, and the
    digest that the entry holds."""

    entry: int
    machine: str
    began_at: datetime
    held: Held
    reference: str | None
    salt: str | None
    digest: str | None


def reference_of(connection: Connection, seq: int) -> Reference:
    """What is known of the reference of the case that an entry tells of, as it counts now.

    Raises:
        NotKnown: there is no such entry.
        InputError: it tells of no case, or of none with a reference.
    """
    case = _case(connection, seq)
    told, digest = _told(counting(connection, seq) or case)
    if not (told or digest):
        raise _none_told(seq)
    kept = connection.execute(select(reference).where(reference.c.digest == digest)).first()
    held = Held.IN_ENTRY if told else Held.BESIDE if kept else Held.ERASED
    told, salt = (kept.reference, kept.salt) if kept else (told, None)
    machine = case.body.names()["machine"]
    return Reference(seq, machine, case.happened_at, held, told, salt, digest)


class Erasable(NamedTuple):
    """A case's machine, and the digests of the references that are kept of it."""

    machine: str
    digests: list[str]


def erasable(connection: Connection, seq: int) -> Erasable:
    """Every reference that a case ever had, its corrections' among them.

    Raises:
        NotKnown: there is no such entry.
        InputError: it tells of no case; none of its references can be erased, or all are.
    """
    case = _case(connection, seq)
    numbers = select(correction.c.entry).where(correction.c.corrects == seq)
    fixes = [read_entry(connection, one) for one in connection.execute(numbers).scalars()]
    found = [_told(one) for one in (case, *filter(None, fixes))]
    if any(told for told, _ in found):
        raise InputError(
            f"entry {seq} holds its reference in the chain, as entries of the first version do",
            "it cannot be taken out; hand copies only to whoever may read it",
        )
    every = [digest for _, digest in found if digest]
    if not every:
        raise _none_told(seq)
    kept = select(reference.c.digest).where(reference.c.digest.in_(every))
    digests = list(connection.execute(kept).scalars())
    if not digests:
        raise InputError(f"the reference of case {seq} was erased before", "nothing is left of it")
    return Erasable(case.body.names()["machine"], digests)


def _none_told(seq: int) -> InputError:
    return InputError(f"case {seq} tells of no reference", "name a case with one")


def _case(connection: Connection, seq: int) -> Entry:
    one = known_entry(connection, seq)
    if one.kind not in ("case", "case_begin"):
        raise InputError(f"entry {seq} is a {one.kind} entry, not a case", "name the case")
    return one


def _told(one: Entry) -> tuple[str | None, str | None]:
    """The reference and the digest that an entry or a correction of a case holds."""
    body: dict[str, Any] = (
        cast("Correction", one.body).body or {}
        if one.kind == "correction"
        else one.body.model_dump()
    )
    return body.get("reference"), body.get("reference_digest")
