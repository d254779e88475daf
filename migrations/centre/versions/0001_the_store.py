"""The store of a group: sites, what they handed over, and how far."""

from alembic import op

revision = "0001"
down_revision = None

ROLES = """
DO $$ BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'logbook_program') THEN
        CREATE ROLE logbook_program NOLOGIN;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'logbook_group') THEN
        CREATE ROLE logbook_group NOLOGIN;
    END IF;
    IF NOT (SELECT rolsuper FROM pg_roles WHERE rolname = current_user) THEN
        EXECUTE format('GRANT logbook_program, logbook_group TO %I', current_user);
    END IF;
END $$
"""
TABLES = (
    """
    CREATE TABLE logbook.entry (
        site BIGINT DEFAULT nullif(current_setting('logbook.site', true), '')::bigint NOT NULL,
        seq BIGINT NOT NULL,
        id TEXT COLLATE "C" NOT NULL,
        kind TEXT COLLATE "C" NOT NULL,
        happened_at TEXT COLLATE "C" NOT NULL,
        happened_local TEXT COLLATE "C" NOT NULL,
        recorded_at TEXT COLLATE "C" NOT NULL,
        recorded_local TEXT COLLATE "C" NOT NULL,
        by TEXT COLLATE "C" NOT NULL,
        body TEXT COLLATE "C" NOT NULL,
        hash TEXT COLLATE "C" NOT NULL,
        CONSTRAINT entry_pk PRIMARY KEY (site, seq)
    )
    """,
    """
    CREATE UNIQUE INDEX entry_id ON logbook.entry (site, id)
    """,
    """
    CREATE TABLE logbook.ledger (
        site BIGINT DEFAULT nullif(current_setting('logbook.site', true), '')::bigint NOT NULL,
        "only" BIGINT NOT NULL,
        uuid TEXT COLLATE "C" NOT NULL,
        created_at TEXT COLLATE "C" NOT NULL,
        CONSTRAINT ledger_pk PRIMARY KEY (site, "only")
    )
    """,
    """
    CREATE TABLE logbook.site (
        site BIGINT GENERATED ALWAYS AS IDENTITY,
        name TEXT NOT NULL,
        uuid TEXT NOT NULL,
        region TEXT,
        added_at TEXT NOT NULL,
        CONSTRAINT site_pk PRIMARY KEY (site),
        CONSTRAINT site_name UNIQUE (name),
        CONSTRAINT site_uuid UNIQUE (uuid)
    )
    """,
    """
    CREATE TABLE logbook.due_thing (
        site BIGINT NOT NULL,
        n BIGINT NOT NULL,
        standing TEXT NOT NULL,
        due_on TEXT,
        item TEXT NOT NULL,
        told TEXT NOT NULL,
        CONSTRAINT due_thing_pk PRIMARY KEY (site, n),
        CONSTRAINT due_of_site FOREIGN KEY(site) REFERENCES logbook.site (site)
    )
    """,
    """
    CREATE INDEX due_thing_by_standing ON logbook.due_thing (standing, due_on, site)
    """,
    """
    CREATE TABLE logbook.flag (
        site BIGINT NOT NULL,
        n BIGINT GENERATED ALWAYS AS IDENTITY,
        at TEXT NOT NULL,
        entry BIGINT NOT NULL,
        words TEXT NOT NULL,
        CONSTRAINT flag_pk PRIMARY KEY (site, n),
        CONSTRAINT flag_of_site FOREIGN KEY(site) REFERENCES logbook.site (site)
    )
    """,
    """
    CREATE TABLE logbook.head (
        site BIGINT NOT NULL,
        entries BIGINT NOT NULL,
        hash TEXT NOT NULL,
        heard_at TEXT,
        CONSTRAINT head_pk PRIMARY KEY (site),
        CONSTRAINT head_hash_length CHECK (length(hash) = 64),
        CONSTRAINT head_of_site FOREIGN KEY(site) REFERENCES logbook.site (site)
    )
    """,
    """
    CREATE TABLE logbook.receipt (
        site BIGINT NOT NULL,
        n BIGINT GENERATED ALWAYS AS IDENTITY,
        entries BIGINT NOT NULL,
        hash TEXT NOT NULL,
        note TEXT NOT NULL,
        CONSTRAINT receipt_pk PRIMARY KEY (site, n),
        CONSTRAINT receipt_of_site FOREIGN KEY(site) REFERENCES logbook.site (site)
    )
    """,
    """
    CREATE TABLE logbook.renewal (
        site BIGINT NOT NULL,
        entries BIGINT NOT NULL,
        version TEXT NOT NULL,
        day TEXT,
        CONSTRAINT renewal_pk PRIMARY KEY (site),
        CONSTRAINT renewal_of_site FOREIGN KEY(site) REFERENCES logbook.site (site)
    )
    """,
)


def upgrade() -> None:
    """Make the two roles and every table that is kept."""
    for statement in (ROLES, *TABLES):
        op.execute(statement)
