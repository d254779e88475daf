"""The tables of a group's store: those of a ledger, each with ``site`` leading every key, and the
few that the centre keeps of its own.

The columns of a ledger's tables are taken from the tables themselves, so that the questions that a
clinic asks of its file run here unchanged: each transaction says which site it is about, and the
rows of every other site are out of its sight (row-level security).
"""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import (
    CheckConstraint,
    Column,
    ForeignKey,
    Identity,
    Index,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
    text,
)

from logbook.ledger.columns import Flag, Label, Whole
from logbook.ledger.schema import HEAD as LEDGER_HEAD
from logbook.ledger.schema import entry as ledger_entry
from logbook.ledger.schema import ledger, truth
from logbook.projections.tables import projected

SCHEMA = "logbook"
"""Where all tables stand in the database."""
HEAD = "0003"
"""The newest migration of the store."""
VERSION = f"{LEDGER_HEAD}/{HEAD}"
"""What a store must say of itself: the version of the ledger's tables in it, and of its own."""
PROGRAM, GROUP = "logbook_program", "logbook_group"
"""The role that works on one site, and the one that only reads, of all sites; neither can log in
nor owns anything."""
THIS_SITE = "nullif(current_setting('logbook.site', true), '')::bigint"

BYTEWISE = "C"
"""Text is sorted by its bytes, as in the file of a clinic."""

kept = MetaData(schema=SCHEMA)
"""What the centre keeps: never rebuilt."""
read_anew = MetaData(schema=SCHEMA)
"""What is read anew out of the entries."""


def _of_site(table: Table, metadata: MetaData) -> Table:
    """A ledger's table as it stands in the store."""
    columns = [
        Column(one.name, _sorted_by_bytes(one.type), nullable=one.nullable) for one in table.columns
    ]
    indexes = [
        Index(
            one.name,
            "site",
            *(column.name for column in one.columns),
            unique=one.unique,
            postgresql_where=one.dialect_options["sqlite"]["where"],
        )
        for one in table.indexes
    ]
    return Table(
        table.name,
        metadata,
        Column("site", Whole, nullable=False, server_default=text(THIS_SITE)),
        *columns,
        PrimaryKeyConstraint(
            "site", *(one.name for one in table.primary_key), name=f"{table.name}_pk"
        ),
        *indexes,
    )


def _sorted_by_bytes(kind: Any) -> Any:
    """The type of a column; its text has an order of its own, whatever the database's."""
    if isinstance(kind, Whole.__class__ | Flag):
        return kind
    return Text(collation=BYTEWISE)


entry = _of_site(ledger_entry, kept)
identity = _of_site(ledger, kept)
for _table in projected.sorted_tables:
    _of_site(_table, read_anew)
beside = [
    _of_site(one, read_anew) for one in truth.sorted_tables if one not in (ledger_entry, ledger)
]
"""What a clinic keeps beside its chain never travels: here such tables are empty and nobody may
write them, so that a question that asks them finds nothing."""

site = Table(
    "site",
    kept,
    Column("site", Whole, Identity(always=True), nullable=False),
    Column("name", Label, nullable=False),
    Column("uuid", Label, nullable=False),
    Column("region", Label, nullable=True),
    Column("added_at", Label, nullable=False),
    Column("token_digest", Label, nullable=True),
    PrimaryKeyConstraint("site", name="site_pk"),
    UniqueConstraint("name", name="site_name"),
    UniqueConstraint("uuid", name="site_uuid"),
    UniqueConstraint("token_digest", name="site_token"),
)
"""The sites whose ledgers are taken; of the token by which a site is known in the network only a
digest is kept."""

reader = Table(
    "reader",
    kept,
    Column("name", Label, nullable=False),
    Column("token_digest", Label, nullable=False),
    Column("added_at", Label, nullable=False),
    PrimaryKeyConstraint("name", name="reader_pk"),
    UniqueConstraint("token_digest", name="reader_token"),
)
"""The people who may read the group's pages; of the token of each only a digest is kept."""

head = Table(
    "head",
    kept,
    Column("site", Whole, ForeignKey(site.c.site, name="head_of_site"), nullable=False),
    Column("entries", Whole, nullable=False),
    Column("hash", Label, nullable=False),
    Column("heard_at", Label, nullable=True),
    PrimaryKeyConstraint("site", name="head_pk"),
    CheckConstraint("length(hash) = 64", name="head_hash_length"),
)
"""How far each site's ledger was taken; its row is the lock of the site."""

receipt = Table(
    "receipt",
    kept,
    Column("site", Whole, ForeignKey(site.c.site, name="receipt_of_site"), nullable=False),
    Column("n", Whole, Identity(always=True), nullable=False),
    Column("entries", Whole, nullable=False),
    Column("hash", Label, nullable=False),
    Column("note", Label, nullable=False),
    PrimaryKeyConstraint("site", "n", name="receipt_pk"),
)
"""Every receipt that was given, as the site has it."""

flag = Table(
    "flag",
    kept,
    Column("site", Whole, ForeignKey(site.c.site, name="flag_of_site"), nullable=False),
    Column("n", Whole, Identity(always=True), nullable=False),
    Column("at", Label, nullable=False),
    Column("entry", Whole, nullable=False),
    Column("words", Label, nullable=False),
    PrimaryKeyConstraint("site", "n", name="flag_pk"),
)
"""What a site handed over that contradicts what it had handed over before; for a person."""

renewal = Table(
    "renewal",
    kept,
    Column("site", Whole, ForeignKey(site.c.site, name="renewal_of_site"), nullable=False),
    Column("entries", Whole, nullable=False),
    Column("version", Label, nullable=False),
    Column("day", Label, nullable=True),
    PrimaryKeyConstraint("site", name="renewal_pk"),
)
"""Up to which entry, by which version of the tables and for which day a site was read."""

due_thing = Table(
    "due_thing",
    kept,
    Column("site", Whole, ForeignKey(site.c.site, name="due_of_site"), nullable=False),
    Column("n", Whole, nullable=False),
    Column("standing", Label, nullable=False),
    Column("due_on", Label, nullable=True),
    Column("item", Label, nullable=False),
    Column("told", Label, nullable=False),
    PrimaryKeyConstraint("site", "n", name="due_thing_pk"),
    Index("due_thing_by_standing", "standing", "due_on", "site"),
)
"""What is due at every site, as its own list says it (``told`` is the item of that list)."""

NEVER_CHANGED = (entry, identity, receipt, flag)
SCOPED = (entry, identity, head, receipt, flag, renewal, due_thing)
CHANGED = (head, renewal, due_thing)
REFUSAL = "the store keeps what it took"


def guards() -> Iterator[str]:
    """The statements that refuse changes of what is kept."""
    yield (
        f"CREATE OR REPLACE FUNCTION {SCHEMA}.refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$"
    )
    for table in NEVER_CHANGED:
        yield from _guard(table, "update_or_delete", "UPDATE OR DELETE", "ROW")
    for table in kept.sorted_tables:
        yield from _guard(table, "truncate", "TRUNCATE", "STATEMENT")


def _guard(table: Table, name: str, deeds: str, each: str) -> Iterator[str]:
    named = f"{table.name}_no_{name}"
    yield f"DROP TRIGGER IF EXISTS {named} ON {table.fullname}"
    yield (
        f"CREATE TRIGGER {named} BEFORE {deeds} ON {table.fullname} "
        f"FOR EACH {each} EXECUTE FUNCTION {SCHEMA}.refuse()"
    )


def walls(tables: list[Table]) -> Iterator[str]:
    """The statements by which the program sees one site's rows, and the group reads all."""
    for table in tables:
        name = _quoted(table)
        yield f"ALTER TABLE {name} ENABLE ROW LEVEL SECURITY"
        yield (
            f"CREATE POLICY one_site ON {name} TO {PROGRAM} "
            f"USING (site = {THIS_SITE}) WITH CHECK (site = {THIS_SITE})"
        )
        yield f"CREATE POLICY all_sites ON {name} FOR SELECT TO {GROUP} USING (true)"


def rights() -> Iterator[str]:
    """The statements that give the two roles what they need and no more."""
    yield f"GRANT USAGE ON SCHEMA {SCHEMA} TO {PROGRAM}, {GROUP}"
    yield f"GRANT SELECT ON ALL TABLES IN SCHEMA {SCHEMA} TO {PROGRAM}, {GROUP}"
    for table in (*NEVER_CHANGED, site):
        yield f"GRANT INSERT ON {_quoted(table)} TO {PROGRAM}"
    for table in (*CHANGED, *(one for one in read_anew.sorted_tables if one not in beside)):
        yield f"GRANT INSERT, UPDATE, DELETE ON {_quoted(table)} TO {PROGRAM}"


def _quoted(table: Table) -> str:
    return f'{SCHEMA}."{table.name}"'
