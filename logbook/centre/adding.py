"""Making sites known to a centre, and the tokens by which they are known in the network."""

import secrets
from datetime import datetime

from sqlalchemy import insert, select, update

from logbook.centre.store import Site, Store, digest_of
from logbook.centre.tables import head, identity, renewal, site
from logbook.errors import InputError
from logbook.ledger.chain import genesis_hash
from logbook.times import utc_text
from logbook.units import shown


def add_site(store: Store, name: str, uuid: str, region: str | None, now: datetime) -> Site:
    """Make a site known, so that its ledger can be taken.

    Raises:
        InputError: another site has this name or this ledger.
    """
    with store.owner() as connection:
        taken = select(site).where((site.c.name == name) | (site.c.uuid == uuid))
        if other := connection.execute(taken).first():
            what = f"is {other.name}" if other.name == name else f"has the ledger {uuid}"
            raise InputError(f"a site that {what} is known already", "choose another name")
        told = {"name": name, "uuid": uuid, "region": region, "added_at": utc_text(now)}
        number: int = connection.execute(
            insert(site).values(told).returning(site.c.site)
        ).scalar_one()
        first = genesis_hash(uuid)
        connection.execute(insert(head).values(site=number, entries=0, hash=first))
        connection.execute(insert(renewal).values(site=number, entries=0, version=""))
        connection.execute(
            insert(identity).values(site=number, only=1, uuid=uuid, created_at=utc_text(now))
        )
    return Site(number, name, uuid, region)


def new_token(store: Store, name: str) -> str:
    """A new token of a site, told this once; the one before it counts no longer.

    Raises:
        InputError: there is no such site.
    """
    token = secrets.token_urlsafe(32)
    _keep_digest(store, name, digest_of(token))
    return token


def end_token(store: Store, name: str) -> None:
    """Let a site's token count no longer.

    Raises:
        InputError: there is no such site.
    """
    _keep_digest(store, name, None)


def _keep_digest(store: Store, name: str, digest: str | None) -> None:
    with store.owner() as connection:
        change = update(site).where(site.c.name == name).values(token_digest=digest)
        if not connection.execute(change).rowcount:
            raise InputError(f"there is no site {shown(name)}", "see: centre sites")
