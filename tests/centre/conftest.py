"""A PostgreSQL of the tests' own, as Debian has it, and a group with its sites."""

import os
import shutil
import sqlite3
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import Engine, make_url

from logbook.centre.pages import Pages
from logbook.centre.store import Store, _engine
from logbook.centre.upgrade import upgrade
from tests.conftest import NOW, Ran

PLACES = ("/usr/lib/postgresql", "/usr/local/pgsql")
SETTINGS = ("fsync=off", "full_page_writes=off", "listen_addresses=", "max_connections=40")


def programs() -> Path | None:
    """The folder in which PostgreSQL's programs lie, the newest first."""
    if found := shutil.which("initdb"):
        return Path(found).parent
    every = [path.parent for place in PLACES for path in Path(place).glob("**/bin/initdb")]
    return max(every, default=None)


def as_server(command: list[str], **more: Any) -> subprocess.CompletedProcess[bytes]:
    """Run a program of the server's; it refuses to run as root."""
    if os.geteuid() == 0:
        command = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups", *command]
    return subprocess.run(command, check=True, capture_output=True, **more)


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The address of a server, without a database's name."""
    folder = programs()
    if folder is None:
        told = "NOT TRIED: PostgreSQL is not installed (Debian's package postgresql)"
        (pytest.fail if os.environ.get("TOOLS") else pytest.skip)(told)
    # A socket's path is short, and the server's user must be able to enter the folder.
    place = Path(f"/tmp/logbook-tests-{os.getpid()}-{time.time_ns() % 1_000_000}")  # noqa: S108
    place.mkdir(0o700)
    if os.geteuid() == 0:
        shutil.chown(place, "postgres", "postgres")
    data = str(place / "data")
    as_server([str(folder / "initdb"), "-D", data, "-U", "postgres", "-A", "trust", "--no-sync",
               "--locale=C.UTF-8", "--encoding=UTF8"])  # fmt: skip
    options = " ".join(f"-c {one}" for one in SETTINGS)
    control = [str(folder / "pg_ctl"), "-D", data, "-w"]
    try:
        as_server([*control, "-o", f"-k {place} {options}", "-l", str(place / "log"), "start"])
        yield f"postgresql://postgres@/{{}}?host={place}"
        as_server([*control, "-m", "immediate", "stop"])
    finally:
        shutil.rmtree(place, ignore_errors=True)


@pytest.fixture(scope="session")
def template(server: str) -> str:
    """A store that was made once; every test's own is a copy of it."""
    sql(server, "CREATE DATABASE made")
    made = Store.at(server.format("made"))
    upgrade(made)
    _engine(made.url).dispose()
    return "made"


@pytest.fixture(autouse=True)
def closed(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Closes at the end of a test the lines to the stores that it asked."""
    engines: dict[str, Engine] = {}

    def kept(url: str) -> Engine:
        if url not in engines:
            engines[url] = _engine.__wrapped__(url)
        return engines[url]

    monkeypatch.setattr("logbook.centre.store._engine", kept)
    yield
    for engine in engines.values():
        engine.dispose()


def sql(server: str, statement: str, database: str = "postgres") -> list[tuple[Any, ...]]:
    """Send a statement as the server's superuser, whom no guard of ours holds."""
    with psycopg.connect(server.format(database), autocommit=True) as connection:
        told = connection.execute(statement)  # type: ignore[arg-type]
        return told.fetchall() if told.description else []


def database(store: str) -> str:
    """The name of a store's database."""
    return make_url(store).database or ""


@pytest.fixture
def store(server: str, template: str) -> Iterator[str]:
    """The address of a store for this test alone, without a site."""
    name = f"t{time.time_ns()}"
    sql(server, f"CREATE DATABASE {name} TEMPLATE {template}")
    yield server.format(name)
    sql(server, f"DROP DATABASE {name} WITH (FORCE)")


@dataclass(frozen=True)
class Clinic:
    """A clinic of the group: its ledger, and how it hands over."""

    name: str
    ledger: Path
    uuid: str
    run: Callable[..., Ran]

    def __call__(self, line: str) -> Ran:
        """Run a command on its ledger."""
        return self.run("--ledger", str(self.ledger), *line.split())

    def segment(self) -> Path:
        """Everything it has, as a file to be taken."""
        path = self.ledger.with_name(f"{self.name}-{time.time_ns()}.jsonl")
        assert self(f"hand-over {path}").code == 0
        return path


@pytest.fixture
def clinics(
    run_logbook: Callable[..., Ran], clock: Callable[[datetime], None], tmp_path: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> list[Clinic]:  # fmt: skip
    """Three invented clinics, each with a machine and another history; made once, then copied."""
    made = tmp_path_factory.getbasetemp() / "clinics"
    if not made.exists():
        made.mkdir()
        for number, name in enumerate(NAMES, start=1):
            _history(number, name, made, run_logbook, clock)
    return [
        _clinic(name, Path(shutil.copy(made / f"{name}.ledger", tmp_path)), run_logbook)
        for name in NAMES
    ]


NAMES = ("alder-creek", "birch-lane", "stone-mill")


def _clinic(name: str, path: Path, run: Callable[..., Ran]) -> Clinic:
    with closing(sqlite3.connect(path)) as file:
        (uuid,) = file.execute("SELECT uuid FROM ledger").fetchone()
    return Clinic(name, path, uuid, run)


def _history(
    number: int, name: str, folder: Path, run: Callable[..., Ran],
    clock: Callable[[datetime], None],
) -> None:  # fmt: skip
    """A machine with its vaporizer, two cases more than the clinic before, and two changes."""
    path = folder / f"{name}.ledger"
    clock(NOW - timedelta(days=20))
    said = run("--ledger", str(path), "new", f"{name} hospital", "--timezone", "America/Denver")
    assert said.code == 0, said.err
    one = _clinic(name, path, run)
    bay, iso = f"bay{number}", f"iso{number}"
    told = [
        "staff add KO Lead --by KO",
        f"machine add {bay} --serial M-{number}001 --absorbent 1200g",
        f"vaporizer add {iso} --agent isoflurane --serial V-{number}001",
        f"vaporizer fit {iso} {bay}",
        f"absorbent change {bay} --lot LOT-{number % 2}",
        f"service plan {iso} overhaul --every P{number}M --last 2026-01-15",
    ]
    cases = [
        f"case log {bay} --began 2026-03-0{number}T{hour:02}:00 --ran 50min "
        "--circuit adult --weight 20kg"
        for hour in range(8, 8 + number * 2)
    ]
    for lines in (told, [*cases, f"absorbent change {bay} --lot LOT-9"]):
        for line in lines:
            said = one(line)
            assert said.code in (0, 3), said
        clock(NOW)


@pytest.fixture
def centre(store: str, run_logbook: Callable[..., Ran]) -> Callable[..., Ran]:
    """The centre's command line on the test's store."""

    def command(*words: str) -> Ran:
        return run_logbook("centre", "--store", store, *words)

    return command


@pytest.fixture
def group(clinics: list[Clinic], centre: Callable[..., Ran]) -> list[Clinic]:
    """The three clinics, known to the centre, with nothing handed over yet."""
    for one in clinics:
        added = centre("site", "add", one.name, "--uuid", one.uuid, "--region", one.name[0])
        assert added.code == 0, added.err
    return clinics


@pytest.fixture
def site(group: list[Clinic]) -> Clinic:
    """The first site of the group."""
    return group[0]


@pytest.fixture
def token(site: Clinic, centre: Callable[..., Ran], tmp_path: Path) -> Path:
    """The file with the site's token."""
    path = tmp_path / "token"
    path.write_text(centre("site", "token", site.name).out)
    path.chmod(0o600)
    return path


@pytest.fixture
def pages(store: str) -> Pages:
    """The group's pages, at noon of the tests' day."""
    return Pages(Store.at(store), frozenset({"localhost"}), lambda: NOW, print, secure=False)


@pytest.fixture
def handed_over(group: list[Clinic], centre: Callable[..., Ran]) -> list[Clinic]:
    """The group, with everything handed over."""
    for one in group:
        taken = centre("take", str(one.segment()))
        assert taken.code == 0, taken.err
    return group
