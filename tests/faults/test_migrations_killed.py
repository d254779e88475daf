"""A ledger of an older version, killed or failing while it is upgraded, keeps every entry."""

import random
import shutil
import sqlite3
from collections.abc import Callable
from concurrent.futures import Executor
from contextlib import closing
from pathlib import Path

import pytest

from logbook.ledger import connect, upgrade
from logbook.proof import findings
from logbook.proof import verify as verifying
from logbook.shipped import folder as shipped
from tests.faults.bench import NEXT, Place, Ran, fresh, run
from tests.faults.commands import DUE, NOTE, Writing
from tests.faults.oracle import entries, meanings, plain, typed, whole
from tests.faults.trials import all_of, breaches_of, drawn, kill, record_calls

RELEASED = sorted((Path(__file__).parents[1] / "fixtures").glob("*.ledger"))
HEADS = {
    int(count): head
    for count, head in (one.with_suffix(".head").read_text().split() for one in RELEASED)
}
"""The hash of the last entry of each released ledger, by the number of its entries."""
TODAYS = "today's"
"""Stands for a ledger as this program makes it, which a coming version will upgrade."""
STEP = f"""
from alembic import op
revision, down_revision = "{NEXT}", "{upgrade.HEAD}"
def upgrade():
    op.execute("CREATE TABLE room (name TEXT NOT NULL) STRICT")
    op.execute("DROP TABLE room")
    op.execute("DROP TABLE note")
    op.execute("DROP TRIGGER entry_no_update")
"""
"""Ends at the tables of today, so that verifying holds the upgraded file against all of them."""
FAILS = STEP + '    op.execute("DROP TABLE person")\n    op.execute("VACUUM nowhere")\n'


class Coming:
    """The coming version of the program: this one with one migration more."""

    def __init__(self, folder: Path, step: str) -> None:
        self.migrations = folder / "migrations"
        shutil.copytree(shipped("migrations"), self.migrations)
        (self.migrations / "versions" / f"{NEXT}_more.py").write_text(step)

    def __call__(self) -> None:
        """Make this process one of the coming version."""
        upgrade.folder = findings.folder = lambda _name: self.migrations
        connect.HEAD = upgrade.HEAD = verifying.HEAD = NEXT


def version(ledger: Path) -> str:
    """The version at which a file stands."""
    with closing(sqlite3.connect(ledger)) as raw:
        return str(raw.execute("SELECT version_num FROM alembic_version").fetchone()[0])


def signer(ledger: Path) -> str:
    """Somebody who signed there."""
    with closing(sqlite3.connect(ledger)) as raw:
        query = """SELECT "by" FROM entry WHERE "by" != '' ORDER BY seq DESC"""
        return str(raw.execute(query).fetchone()[0])


EVERY_OLD = pytest.mark.parametrize(
    "old", [TODAYS, *RELEASED], indirect=True, ids=lambda one: getattr(one, "name", one)
)


@pytest.fixture
def old(request: pytest.FixtureRequest, clinics: Path, tmp_path: Path) -> Place:
    """A desk with a ledger that stands behind the coming version."""
    place = Place(clinics / "clinic").copy(tmp_path / "old")
    if request.param == TODAYS:
        return place
    shutil.copy(request.param, place.ledger)
    return Place(place.folder, signer(place.ledger))


def before_copy(place: Place) -> Path:
    return place.ledger.with_name(f"{place.ledger.name}.before-{NEXT}")


@pytest.mark.parametrize(
    ("old", "command"),
    # The identity of a note falls anywhere into the index of a large ledger, so no two notes make
    # the same calls there; a question makes those of the upgrade alone.
    [(TODAYS, NOTE), (TODAYS, DUE), *((one, DUE) for one in RELEASED)],
    indirect=["old"],
    ids=lambda one: getattr(one, "name", one),
)
def test_an_upgrade_killed_at_any_call_is_done_by_the_next_command(
    benches: Executor, old: Place, tmp_path: Path, command: Writing, size: str,
    chance: random.Random, report: Callable[[str], None], request: pytest.FixtureRequest,
) -> None:  # fmt: skip
    coming = Coming(tmp_path, STEP)
    one = benches.submit(
        record_calls, old, tmp_path / "calls", command, saying=False, change=coming
    )
    recording = one.result()
    upgraded = Place(tmp_path / "calls")
    assert version(upgraded.ledger) == NEXT
    assert entries(before_copy(upgraded)) == recording.expected.before
    numbers = drawn(recording.calls, size, chance, quick=1)
    jobs = [(old, tmp_path / f"kill-{n}", recording, n, coming) for n in numbers]
    outcomes = all_of(benches, kill, jobs)
    breaches = breaches_of(outcomes)
    hot = sum(outcome.hot for outcome in outcomes)
    report(
        f"upgrade of {request.node.callspec.id} killed: at {len(outcomes)} of "
        f"{len(recording.calls)} calls, {hot} with a journal to play back, {len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)


def failed_then_worked(old: Place, folder: Path, fails: Coming, works: Coming) -> list[str]:
    """An upgrade that fails half-way, the old program after it, and then one that works."""
    place = old.copy(folder)
    stood = place.ledger.read_bytes()
    breaches = []
    for command in (DUE, NOTE):
        ran: Ran = run(place, command.words, fails)
        one_line = ran.err.startswith("Not done, nothing saved: ") and ran.err.count("\n") == 1
        if ran.code != 4 or ran.out or not one_line:
            breaches.append(f"the failing upgrade says, with code {ran.code}: {ran.out}{ran.err}")
        if place.ledger.read_bytes() != stood:
            breaches.append("an upgrade that failed left its marks")
    if version(old.ledger) == connect.HEAD:
        breaches += plain("the old program's note", run(place, ("note", "as before")), 0)
    rows = entries(place.ledger)
    breaches += plain("the note that upgrades", run(place, NOTE.words, works), 0)
    if version(place.ledger) != NEXT or entries(place.ledger)[:-1] != rows:
        breaches.append("the upgrade that works did not leave the entries as they were")
    if entries(before_copy(place)) != rows:
        breaches.append("the copy from before the upgrade lacks entries")

    def verified() -> list[str]:
        works()
        return list(whole(place.ledger))

    return breaches + list(fresh(verified))


@EVERY_OLD
def test_an_upgrade_that_fails_half_way_leaves_every_byte_and_a_later_one_keeps_all_entries(
    benches: Executor, old: Place, tmp_path: Path
) -> None:
    fails, works = Coming(tmp_path / "fails", FAILS), Coming(tmp_path / "works", STEP)
    job = benches.submit(failed_then_worked, old, tmp_path / "trial", fails, works)
    assert job.result() == []


def upgraded_twice(old: Place, folder: Path, coming: Coming) -> list[str]:
    """The first command upgrades; the second finds nothing to do."""
    place = old.copy(folder)
    rows = entries(place.ledger)
    last_hash = HEADS.get(len(rows))
    if last_hash not in (None, rows[-1][-1]):
        return ["the released ledger is not the one that was released"]
    breaches = list(plain("the upgrade", run(place, DUE.words, coming), 0, 3))
    stood = [one.read_bytes() for one in (place.ledger, before_copy(place))]
    breaches += plain("the second time", run(place, DUE.words, coming), 0, 3)
    if stood != [one.read_bytes() for one in (place.ledger, before_copy(place))]:
        breaches.append("a second upgrade changed something")
    if entries(place.ledger) != rows or version(place.ledger) != NEXT:
        breaches.append("an upgrade changed entries, or was none")

    def refused_by_the_old_program() -> int:
        place.settle_in()
        return typed(place, *NOTE.words).code

    if fresh(refused_by_the_old_program) != 6:
        breaches.append("the old program did not refuse the file of the newer one")
    return breaches


@EVERY_OLD
def test_an_upgrade_run_twice_changes_nothing_the_second_time(
    benches: Executor, old: Place, tmp_path: Path, report: Callable[[str], None]
) -> None:
    job = benches.submit(upgraded_twice, old, tmp_path / "trial", Coming(tmp_path, STEP))
    breaches = job.result()
    count = len(meanings(entries(old.ledger)))
    report(f"upgrade run twice: {count} entries, head the same, {len(breaches)} breaches")
    assert breaches == []
