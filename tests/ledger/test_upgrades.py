"""Migrations, models and guards agree; a failure at any step leaves the file as it was."""

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import MetaData, NullPool, create_engine

from logbook.errors import LedgerError
from logbook.ledger import connect, upgrade
from logbook.ledger.chain import first_break
from logbook.ledger.schema import GUARDS, HEAD, guard_sql, truth
from logbook.ledger.sqlite_file import SqliteFile
from logbook.ledger.store import ledger_uuid, stored_rows
from logbook.projections import project
from logbook.projections.tables import projected
from logbook.recording.opening import Book, reading, writing
from logbook.shipped import folder as shipped
from tests.ledger.scribe import Scribe
from tests.ledger.weeks import busy_week


def test_migrations_and_models_agree_on_a_populated_ledger(book: Book, tell: Scribe) -> None:
    busy_week(tell)
    both = MetaData()
    for table in [*truth.sorted_tables, *projected.sorted_tables]:
        table.to_metadata(both)
    assert compare_metadata(MigrationContext.configure(book.connection), both) == []


def statements(connection) -> dict[str, str]:
    """What SQLite keeps of every table and index, without the blanks."""
    rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL")
    return {name: "".join(sql.replace('"', "").split()) for name, sql in rows}


def test_migrations_write_the_very_statements_of_the_models(book: Book) -> None:
    """Constraints and STRICT are nothing that a comparison of columns sees."""
    engine = create_engine("sqlite://", poolclass=NullPool)
    with engine.begin() as connection:
        truth.create_all(connection)
        modelled = statements(connection)
    migrated = statements(book.connection)
    assert {name: migrated[name] for name in modelled} == modelled


def guards(connection) -> dict[str, str]:
    rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
    return dict(rows.all())


def test_a_new_ledger_has_every_guard(book: Book) -> None:
    assert guards(book.connection) == {name: guard_sql(name) for name in GUARDS}


NEXT = f"{int(HEAD) + 1:04}"
"""The version of a program that has one migration more than this one."""
GOOD = f"""
import sqlalchemy as sa
from alembic import op
revision, down_revision = "{NEXT}", "{HEAD}"
def upgrade():
    op.add_column("person", sa.Column("pronoun", sa.Text))
    op.execute("DROP TRIGGER entry_no_update")
"""
BAD = GOOD + '    op.execute("DROP TABLE person")\n    op.execute("VACUUM nowhere")\n'


@pytest.fixture
def behind(ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A populated ledger, met by a program that has one migration more."""
    with writing(ledger) as book:
        busy_week(Scribe(book))

    def by(migration: str) -> Path:
        folder = tmp_path / "migrations"
        if not folder.exists():
            shutil.copytree(shipped("migrations"), folder)
        (folder / "versions" / f"{NEXT}_more.py").write_text(migration)
        monkeypatch.setattr(upgrade, "folder", tmp_path.joinpath)
        for module in (connect, upgrade):
            monkeypatch.setattr(module, "HEAD", NEXT)
        return ledger

    return by


def before_copy(path: Path) -> Path:
    return path.with_name(f"{path.name}.before-{NEXT}")


def test_an_upgrade_keeps_the_entries_and_sets_the_guards_again(behind) -> None:
    path = behind(GOOD)
    with closing(sqlite3.connect(path)) as raw:
        before = raw.execute("SELECT * FROM entry").fetchall()
    with reading(path) as book:
        rows = list(stored_rows(book.connection))
        assert len(rows) == len(before) > 20
        assert first_break(ledger_uuid(book.connection), rows) is None
        assert guards(book.connection).keys() == GUARDS.keys()
    with closing(sqlite3.connect(path)) as raw:
        assert raw.execute("SELECT * FROM entry").fetchall() == before
        assert raw.execute("SELECT * FROM alembic_version").fetchall() == [(NEXT,)]


def test_a_copy_of_the_old_file_is_taken_before_an_upgrade(behind) -> None:
    path = behind(GOOD)
    with closing(sqlite3.connect(path)) as raw:
        old = list(raw.iterdump())
    with reading(path):
        pass
    with closing(sqlite3.connect(before_copy(path))) as raw:
        assert list(raw.iterdump()) == old


def test_the_copy_holds_what_was_added_after_an_upgrade_that_failed(
    behind, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = behind(BAD)
    with pytest.raises(LedgerError), reading(path):
        pass
    with monkeypatch.context() as older_program:
        for module in (connect, upgrade):
            older_program.setattr(module, "HEAD", HEAD)
        with writing(path) as book:
            Scribe(book)("note", "2026-03-09 08:00", text="after the failure")
    behind(GOOD)
    with reading(path):
        pass
    with closing(sqlite3.connect(before_copy(path))) as raw:
        assert raw.execute("SELECT text FROM note").fetchall()[-1] == ("after the failure",)


def test_a_second_program_leaves_the_copy_of_the_first_alone(behind) -> None:
    path = behind(GOOD)
    with reading(path):
        pass
    copy = before_copy(path)
    old = copy.read_bytes()
    upgrade.upgrade(SqliteFile.at(path), project.rebuild)
    assert copy.read_bytes() == old


def failing_rebuild(connection) -> int:
    projected.drop_all(connection)
    raise LedgerError("the rebuild failed")


@pytest.mark.parametrize("step", ["migration", "rebuild", "guards"])
def test_an_upgrade_that_fails_leaves_every_byte_as_it_was(
    behind, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    path = behind(BAD if step == "migration" else GOOD)
    if step == "rebuild":
        monkeypatch.setattr(project, "rebuild", failing_rebuild)
    if step == "guards":
        monkeypatch.setitem(GUARDS, "entry_no_update", "BEFORE NOTHING ON entry")
    before = path.read_bytes()
    with pytest.raises(LedgerError), reading(path):
        pass
    assert path.read_bytes() == before
    assert not list(path.parent.glob("*-journal"))


def test_the_migrations_shipped_end_at_the_version_that_the_program_knows() -> None:
    config = Config()
    config.set_main_option("script_location", str(shipped("migrations")))
    assert ScriptDirectory.from_config(config).get_current_head() == HEAD


LOADED = """
import sys
from pathlib import Path
from logbook.recording.opening import reading, writing
for opening in (reading, writing):
    with opening(Path(sys.argv[1])):
        pass
print("alembic" in sys.modules)
"""


def test_a_file_that_is_up_to_date_opens_without_alembic(ledger: Path) -> None:
    run = [sys.executable, "-c", LOADED, str(ledger)]
    done = subprocess.run(run, capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"
