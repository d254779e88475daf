"""The tables that are the truth, and the guards that keep them append-only."""

from typing import Any

from sqlalchemy import (
    CheckConstraint,
    Column,
    ForeignKeyConstraint,
    Index,
    MetaData,
    PrimaryKeyConstraint,
    Table,
)

from logbook.ledger.columns import Label, Whole

HEAD = "0005"
"""The newest migration. It changes with the tables here and with every projection."""
APPLICATION_ID = 0x474D4C42
"""Marks the file as a ledger of this program in SQLite's header: the bytes ``GMLB``."""

truth = MetaData()

ledger = Table(
    "ledger",
    truth,
    Column("only", Whole, nullable=False),
    Column("uuid", Label, nullable=False),
    Column("created_at", Label, nullable=False),
    PrimaryKeyConstraint("only", name="ledger_pk"),
    CheckConstraint("only = 1", name="ledger_has_one_row"),
    sqlite_strict=True,
)

entry = Table(
    "entry",
    truth,
    Column("seq", Whole, nullable=False),
    Column("id", Label, nullable=False),
    Column("kind", Label, nullable=False),
    Column("happened_at", Label, nullable=False),
    Column("happened_local", Label, nullable=False),
    Column("recorded_at", Label, nullable=False),
    Column("recorded_local", Label, nullable=False),
    Column("by", Label, nullable=False),
    Column("body", Label, nullable=False),
    Column("hash", Label, nullable=False),
    PrimaryKeyConstraint("seq", name="entry_pk"),
    CheckConstraint("seq > 0", name="entry_seq_above_0"),
    CheckConstraint("length(hash) = 64", name="entry_hash_length"),
    CheckConstraint("json_valid(body)", name="entry_body_json").ddl_if(dialect="sqlite"),
    Index("entry_id", "id", unique=True),
    sqlite_strict=True,
)

person = Table(
    "person",
    truth,
    Column("initials", Label, nullable=False),
    Column("name", Label, nullable=False),
    PrimaryKeyConstraint("initials", name="person_pk"),
    sqlite_strict=True,
)
"""Names of people, outside the chain, so that a name can be changed or taken out."""

reference = Table(
    "reference",
    truth,
    Column("digest", Label, nullable=False),
    Column("salt", Label, nullable=False),
    Column("reference", Label, nullable=False),
    PrimaryKeyConstraint("digest", name="reference_pk"),
    sqlite_strict=True,
)
"""References of patients, outside the chain, so that one can be erased: the entry holds the digest
of salt and reference, by which whoever holds both can prove it."""

unfinished_check = Table(
    "unfinished_check",
    truth,
    Column("id", Label, nullable=False),
    Column("machine", Label, nullable=False),
    Column("checklist", Label, nullable=False),
    Column("version", Whole, nullable=False),
    Column("begun_at", Label, nullable=False),
    Column("begun_by", Label, nullable=False),
    Column("walked_by", Label, nullable=False),
    Column("again_of", Whole, nullable=True),
    PrimaryKeyConstraint("id", name="unfinished_check_pk"),
    sqlite_strict=True,
)
"""Checks that somebody is walking, outside the chain: they become an entry or are thrown away."""

unfinished_answer = Table(
    "unfinished_answer",
    truth,
    Column("check_id", Label, nullable=False),
    Column("item", Label, nullable=False),
    Column("answer", Label, nullable=False),
    Column("answered_at", Label, nullable=False),
    Column("by", Label, nullable=False),
    PrimaryKeyConstraint("check_id", "item", name="unfinished_answer_pk"),
    ForeignKeyConstraint(
        ["check_id"], ["unfinished_check.id"], name="unfinished_answer_of_check", ondelete="CASCADE"
    ),
    CheckConstraint("json_valid(answer)", name="unfinished_answer_json").ddl_if(dialect="sqlite"),
    sqlite_strict=True,
)
"""What was answered so far, with its time and by whom; it goes with its check."""

forecast_issued = Table(
    "forecast_issued",
    truth,
    Column("unit", Label, nullable=False),
    Column("item", Label, nullable=False),
    Column("clock", Label, nullable=False),
    Column("issued_on", Label, nullable=False),
    Column("issued_s", Whole, nullable=False),
    Column("head", Label, nullable=False),
    Column("entries", Whole, nullable=False),
    Column("left", Label, nullable=False),
    Column("measure", Label, nullable=False),
    Column("weeks", Whole, nullable=False),
    Column("early", Label, nullable=True),
    Column("likely", Label, nullable=True),
    Column("late", Label, nullable=True),
    Column("mean_on", Label, nullable=True),
    PrimaryKeyConstraint("unit", "item", "clock", "issued_on", name="forecast_issued_pk"),
    sqlite_strict=True,
)
"""Forecasts as they were given out, outside the chain, the first of each day: what came of them can
be held against them. ``head`` is that of the last entry that each rests on."""

GUARDS: dict[str, str] = {
    "entry_no_update": "BEFORE UPDATE ON entry",
    "entry_no_delete": "BEFORE DELETE ON entry",
    "entry_appends_only": (
        "BEFORE INSERT ON entry WHEN NEW.seq IS NOT "
        "(SELECT coalesce(max(seq), 0) + 1 FROM entry) "
        "OR EXISTS (SELECT 1 FROM entry WHERE id = NEW.id)"
    ),
    "ledger_no_update": "BEFORE UPDATE ON ledger",
    "ledger_no_delete": "BEFORE DELETE ON ledger",
    "ledger_no_replace": "BEFORE INSERT ON ledger WHEN EXISTS (SELECT 1 FROM ledger)",
}
"""Each guard by name. REPLACE deletes without a delete trigger, so inserts are guarded too."""


REFUSAL = "the ledger is append-only"
"""What every guard says to what it refuses."""


def guard_sql(name: str) -> str:
    """The statement that creates one guard."""
    return f"CREATE TRIGGER {name} {GUARDS[name]} BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"


def guards_stand(connection: Any) -> bool:
    """Whether the file's triggers are the guards, to the letter, and no others."""
    rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
    return sorted(map(tuple, rows)) == sorted((name, guard_sql(name)) for name in GUARDS)


def set_guards(connection: Any) -> None:
    """Create every guard anew; the last step of an upgrade, in the same transaction."""
    for name in GUARDS:
        connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {name}")
        connection.exec_driver_sql(guard_sql(name))
