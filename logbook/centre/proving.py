"""Whether the store still holds what it took: heads, rows and receipts of every site agree.

Rows alone do not tell: where entries vanish from the end, all that is left is whole.
"""

from collections.abc import Iterator

from sqlalchemy import Connection, select, text

from logbook.centre.store import Site, Store, sites
from logbook.centre.tables import entry, guards, head, identity, receipt
from logbook.ledger.chain import Stored, genesis_hash, link_hash
from logbook.sheets.group import GroupFinding, GroupVerifySheet


def verify(store: Store) -> GroupVerifySheet:
    """Read every entry of every site; each site in a transaction of its own."""
    found: list[GroupFinding] = []
    entries = 0
    every = sites(store)
    for one in every:
        with store.of_site(one.number, writes=False) as connection:
            count, told = _of_site(connection, one)
        entries += count
        found += told
    with store.of_group() as connection:
        found += _strangers(connection, {one.number for one in every})
        found += _guards(connection)
    return GroupVerifySheet(len(every), entries, found)


def _of_site(connection: Connection, one: Site) -> tuple[int, list[GroupFinding]]:
    """How many entries a site has, and what does not hold of them."""
    row = connection.execute(select(head).where(head.c.site == one.number)).first()
    if row is None:
        return 0, [GroupFinding(one.name, None, "its head is missing")]
    held = connection.execute(select(identity.c.uuid)).scalars().all()
    if held != [one.uuid]:
        return 0, [GroupFinding(one.name, None, "its ledger's identity is not that of the site")]
    last, count = genesis_hash(one.uuid), 0
    for stored in _rows(connection):
        count += 1
        if stored.seq != count:
            return count, [GroupFinding(one.name, count, f"entry {count} is missing")]
        if stored.hash != link_hash(last, stored):
            return count, [_broken(one, count)]
        last = stored.hash
    found = []
    if (count, last) != (row.entries, row.hash):
        told = f"its head says {row.entries} entries, and {count} are there with another head"
        found.append(GroupFinding(one.name, count + 1, told))
    return count, found + list(_receipts(connection, one, row.entries))


def _broken(one: Site, seq: int) -> GroupFinding:
    return GroupFinding(one.name, seq, f"entry {seq} does not continue the one before it")


def _rows(connection: Connection) -> Iterator[Stored]:
    columns = [entry.c[name] for name in Stored.__slots__]
    for row in connection.execute(select(*columns).order_by(entry.c.seq)).yield_per(2000):
        yield Stored(*row)


def _receipts(connection: Connection, one: Site, held: int) -> Iterator[GroupFinding]:
    """Receipts that promise more than is held, or another entry than the one that stands there."""
    query = (
        select(receipt.c.entries, receipt.c.hash, entry.c.hash.label("there"))
        .outerjoin(entry, (entry.c.site == receipt.c.site) & (entry.c.seq == receipt.c.entries))
        .where(receipt.c.site == one.number, receipt.c.entries > 0)
        .order_by(receipt.c.n)
    )
    for row in connection.execute(query):
        if row.entries > held or row.there != row.hash:
            told = f"a receipt was given for entry {row.entries}, which is not there as it was"
            yield GroupFinding(one.name, row.entries, told)
            return


def _strangers(connection: Connection, known: set[int]) -> Iterator[GroupFinding]:
    for number in connection.execute(select(entry.c.site).distinct()).scalars():
        if number not in known:
            yield GroupFinding("unknown", None, f"entries of a site {number} that was never added")


def _guards(connection: Connection) -> list[GroupFinding]:
    """Guards that are gone or switched off."""
    wanted = {one.split()[2] for one in guards() if one.startswith("CREATE TRIGGER")}
    query = text(
        "SELECT t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
        "JOIN pg_namespace n ON n.oid = c.relnamespace "
        "WHERE n.nspname = 'logbook' AND NOT t.tgisinternal AND t.tgenabled IN ('O', 'A')"
    )
    gone = wanted - set(connection.execute(query).scalars())
    return [GroupFinding("store", None, f"the guard {name} is gone") for name in sorted(gone)]
