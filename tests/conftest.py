"""What every test may use: a fresh ledger built through the migrations, and the command line."""

import json
import os
import shutil
import signal
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner
from hypothesis import settings

from logbook.cli import logbook
from logbook.cli.desk import Desk
from logbook.cli.failures import run
from logbook.deed import WAITING
from logbook.entries.clinic import Clinic, Staff
from logbook.ledger.store import Draft, new_id
from logbook.recording.record import start_ledger

# A busy machine is no reason for a property to fail, and neither is a draw that has nothing to do
# with what was changed: like the faults, properties draw anew where a larger size is named.
same_draws = os.environ.get("FAULTS", "quick") == "quick"
settings.register_profile("ours", deadline=None, derandomize=same_draws)
settings.load_profile("ours")

# Each test syncs its own ledger many times; a disk in memory takes that as it takes all else.
MEMORY = "/dev/shm"  # noqa: S108  What pytest makes there is its own.
if os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > 4 << 30:
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", MEMORY)

ZONE = ZoneInfo("America/Denver")
NOW = datetime(2026, 3, 6, 23, 0, tzinfo=UTC)
"""The clock of every test that asks for one: Friday 2026-03-06, 16:00 in Denver."""


@dataclass(frozen=True)
class Ran:
    """What a command answered."""

    code: int
    out: str
    err: str

    @property
    def saved(self) -> bool:
        """Whether it was done; what was saved may call for somebody."""
        return self.code in (0, 3)

    @property
    def json(self) -> Any:
        """The JSON that it printed."""
        return json.loads(self.out)


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keeps what the program remembers of ledgers inside the test's own folder."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return tmp_path / "config" / "gas-machine-logbook"


@pytest.fixture(scope="session")
def founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger of a clinic with one person, made once through the migrations."""
    path = tmp_path_factory.mktemp("founded") / "clinic.ledger"
    early = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)
    clinic = Clinic(name="Alder Creek Animal Hospital", timezone="America/Denver")
    drafts = [Draft(clinic, early, "", new_id()), Draft(Staff(initials="KO"), early, "", new_id())]
    start_ledger(path, drafts, ZONE, early)
    return path


@pytest.fixture
def ledger(founded: Path, tmp_path: Path) -> Path:
    """A copy of the founded ledger for this test alone: KO signs, no machine yet."""
    return Path(shutil.copy(founded, tmp_path / "clinic.ledger"))


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[datetime], None]:
    """Sets the clock of the command line; it stands at NOW until it is set."""

    def set_to(now: datetime) -> None:
        monkeypatch.setattr(Desk, "now", lambda _self: now)

    set_to(NOW)
    return set_to


@pytest.fixture
def run_logbook(
    ledger: Path, clock: Callable[[datetime], None], monkeypatch: pytest.MonkeyPatch
) -> Callable[..., Ran]:
    """Runs a command on the test's ledger, signed by KO unless told otherwise."""
    monkeypatch.setenv("LOGBOOK_LEDGER", str(ledger))
    monkeypatch.setenv("LOGBOOK_BY", "KO")

    def command(*arguments: str, stdin: str = "") -> Ran:
        with CliRunner().isolation(input=stdin) as (out, err, _):
            code = run(logbook, list(arguments))
        return Ran(code, out.getvalue().decode(), err.getvalue().decode())

    return command


@pytest.fixture
def bay1(run_logbook: Callable[..., Ran]) -> Callable[..., Ran]:
    """The command line of a clinic with machine bay1 and vaporizer iso1 on it."""
    assert run_logbook("machine", "add", "bay1", "--serial", "M-1001").code == 0
    made = run_logbook(
        "vaporizer", "add", "iso1", "--agent", "isoflurane", "--capacity", "250ml", "--fit", "bay1"
    )
    assert made.code == 0, made.err
    return run_logbook


@pytest.fixture(autouse=True)
def ctrl_c_stops_the_tests() -> Iterator[None]:
    """A command that has done its deed lets Ctrl-C go until its process ends; tests go on."""
    handlers = {one: signal.getsignal(one) for one in WAITING}
    yield
    for one, handler in handlers.items():
        signal.signal(one, handler)
