"""Who may read the group's pages: people, each known by a token that was shown once."""

import secrets
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import delete, insert, select

from logbook.centre.store import Store, digest_of
from logbook.centre.tables import reader
from logbook.errors import InputError
from logbook.times import utc_text
from logbook.units import shown


class Reader(NamedTuple):
    """Somebody who may read, and since when, as UTC."""

    name: str
    added_at: str


def add_reader(store: Store, name: str, now: datetime) -> str:
    """Let somebody read; answers the token, which is told this once.

    Raises:
        InputError: somebody of this name reads already.
    """
    token = secrets.token_urlsafe(32)
    told = {"name": name, "token_digest": digest_of(token), "added_at": utc_text(now)}
    with store.owner() as connection:
        if connection.execute(select(reader).where(reader.c.name == name)).first():
            raise InputError(
                f"{shown(name)} reads already", "end that first, where the token was lost"
            )
        connection.execute(insert(reader).values(told))
    return token


def end_reader(store: Store, name: str) -> None:
    """Let somebody read no longer, from the next page on.

    Raises:
        InputError: nobody of this name reads.
    """
    with store.owner() as connection:
        if not connection.execute(delete(reader).where(reader.c.name == name)).rowcount:
            raise InputError(f"nobody is called {shown(name)} of those who read", "list them")


def readers(store: Store) -> list[Reader]:
    """Everybody who may read, by name."""
    query = select(reader.c.name, reader.c.added_at).order_by(reader.c.name)
    with store.of_group() as connection:
        return [Reader(*row) for row in connection.execute(query)]


def reader_with_token(store: Store, token: str) -> str | None:
    """The name of whoever has this token; None where nobody has it, or it was ended."""
    query = select(reader.c.name).where(reader.c.token_digest == digest_of(token))
    with store.of_group() as connection:
        found: str | None = connection.execute(query).scalar()
    return found
