"""References of patients: kept beside the chain, so that one can be erased and still be proved.

An entry holds the SHA-256 of a salt and the reference. Whoever holds both can show that they are
what was recorded; without the salt, a number of few digits cannot be found by trying.
"""

import hashlib
import secrets
from typing import TYPE_CHECKING, Any, NamedTuple, cast

from sqlalchemy import Connection, delete, insert, select

from logbook.entries.base import Body
from logbook.ledger.schema import reference

if TYPE_CHECKING:
    from collections.abc import Collection

    from logbook.entries.book import Correction

SALT_BYTES = 16
"""128 bits: as many as a random identity has, so that no salt comes twice."""


class Apart(NamedTuple):
    """A reference with its salt, and the digest that the entry holds."""

    digest: str
    salt: str
    reference: str


def digest_of(salt: bytes, told: bytes) -> str:
    """The 64 digits that stand in an entry for a reference, both as UTF-8."""
    return hashlib.sha256(salt + told).hexdigest()


def set_apart(body: Body) -> tuple[Body, Apart | None]:
    """A body as the chain takes it, and the reference that it told, where it told one.

    A correction holds the whole new content of an entry, and with it perhaps a reference.
    """
    corrected = cast("Correction", body).body if body.kind == "correction" else None
    told = corrected.get("reference") if corrected else getattr(body, "reference", None)
    if told is None:
        return body, None
    salt = secrets.token_hex(SALT_BYTES)
    apart = Apart(digest_of(salt.encode(), told.encode()), salt, told)
    stands: dict[str, Any] = {"reference": None, "reference_digest": apart.digest}
    if corrected:
        content = {name: value for name, value in (corrected | stands).items() if value is not None}
        stands = {"body": content}
    return body.model_copy(update=stands), apart


def keep(connection: Connection, apart: Apart) -> None:
    """Put a reference beside the chain."""
    connection.execute(insert(reference).values(apart._asdict()))


def says_the_same(connection: Connection, recorded: Body, told: Body) -> bool:
    """Whether an entry's body says what is told anew; an erased reference may have been any."""
    said = getattr(told, "reference", None)
    digest = getattr(recorded, "reference_digest", None)
    if said is None or digest is None:
        return recorded == told
    query = select(reference.c.salt).where(reference.c.digest == digest)
    salt = connection.execute(query).scalar()
    stands = {"reference": None, "reference_digest": digest}
    if salt is not None and digest_of(salt.encode(), said.encode()) != digest:
        return False
    return recorded == told.model_copy(update=stands)


def erase(connection: Connection, digests: "Collection[str]") -> None:
    """Take references out for good: their bytes in the file are overwritten, too."""
    connection.exec_driver_sql("PRAGMA secure_delete = ON")
    connection.execute(delete(reference).where(reference.c.digest.in_(digests)))
