"""Whatever is typed: a documented exit code, words instead of a traceback, and no half entry."""

import os
import random
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

import pytest

from logbook.recording.opening import writing
from tests.cli.commandtree import without_store
from tests.faults.fuzz import DOCUMENTED, NULL_BYTE, SAVED, Desk, command_line, fuzz, garbage
from tests.ledger.scribe import Scribe
from tests.ledger.weeks import busy_week

RUNS = {"quick": 4, "ci": 100, "full": 400}
"""Runs of each command inside of one process."""
PROCESSES = {"quick": 4, "ci": 60, "full": 150}
KEPT = ("PATH", "PYTHONPATH")
"""What a process keeps of its surroundings: where programs are found."""
SLOW = {"demo": 40}
"""A demo is built in seconds, so it runs a fraction as often."""
ENVIRONMENTS = (
    {"LANG": "C"},
    {"LC_ALL": "tr_TR.UTF-8"},
    {"COLUMNS": "20", "NO_COLOR": "1"},
    {"PYTHONUTF8": "0", "LC_ALL": "C", "PYTHONCOERCECLOCALE": "0"},
    {"PYTHONIOENCODING": "ascii", "TERM": "dumb"},
)


@pytest.fixture(scope="module")
def busy(founded: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger in which the values of the fuzz mean something."""
    path = Path(shutil.copy(founded, tmp_path_factory.mktemp("fuzzed") / "clinic.ledger"))
    with writing(path) as book:
        busy_week(Scribe(book))
    return path


def test_no_command_line_breaks_a_promise(
    busy: Path, size: str, chance: random.Random, benches: Executor,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    commands = sorted(without_store())
    runs = [max(1, RUNS[size] // SLOW.get(words, 1)) for words in commands]
    seeds = [f"{words} {chance.getrandbits(48)}" for words in commands]
    codes: Counter[int] = Counter()
    broken: list[str] = []
    for done in benches.map(fuzz, commands, runs, seeds, [busy] * len(commands)):
        codes += done.codes
        broken += done.broken
    report(f"fuzz: {codes.total()} runs of {len(commands)} commands, exit codes {dict(codes)}")
    assert broken == [], "\n\n".join(broken[:5])
    assert codes[2] > codes.total() // 4
    assert codes[0] + codes[3] > codes.total() // 50


def test_real_processes_keep_the_same_promises_in_odd_surroundings(
    busy: Path, size: str, chance: random.Random, tmp_path: Path, report: Callable[[str], None]
) -> None:
    commands, codes = sorted(without_store().keys() - {"demo", "serve"}), Counter()
    folder = tmp_path / "desk"
    folder.mkdir()
    desk = Desk(folder, busy)
    for number in range(PROCESSES[size]):
        words = command_line(chance.choice(commands), chance)
        line = [os.fsencode(word) for word in words if encodable(word)]
        environment = {name: os.environ[name] for name in KEPT if name in os.environ}
        environment |= {"LOGBOOK_LEDGER": "clinic.ledger", "LOGBOOK_BY": "KO"}
        environment |= {"XDG_CONFIG_HOME": str(tmp_path / "config")}
        environment |= ENVIRONMENTS[number % len(ENVIRONMENTS)]
        done = subprocess.run(
            [sys.executable, "-c", "from logbook.cli import main; main()", *line],
            cwd=folder, env=environment, input=garbage(chance), capture_output=True, check=False,
        )  # fmt: skip
        codes[done.returncode] += 1
        told = (done.stdout + done.stderr).decode("utf-8", "backslashreplace")
        assert desk.looked_at(done.returncode, told) == "", (line, environment, told)
    report(f"fuzz: {codes.total()} real processes, exit codes {dict(codes)}")
    assert codes.keys() <= DOCUMENTED
    assert codes.keys() - SAVED


def encodable(word: str) -> bool:
    """Whether a system could hand a word over."""
    if NULL_BYTE in word or len(word) > 100_000:
        return False
    try:
        return b"\0" not in os.fsencode(word)
    except UnicodeEncodeError:
        return False
