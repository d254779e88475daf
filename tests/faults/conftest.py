"""How much of each family of faults runs, what is drawn by chance, and where counts are told.

``FAULTS`` is ``quick`` (a part, in seconds), ``ci`` (every point, of long commands those where the
step changes) or ``full`` (every point of every command in every way). What can be counted off is
whole in ``full``; what is drawn by chance stays so small that the run ends within the hour, because
one that takes half a day is run by nobody, and another seed draws others. ``FAULTS_SEED`` repeats a
run; ``FAULTS_REPORT`` names a file for the counts.
Where calls cannot be traced, whoever named a size is told so by a failure; a newcomer's first run
tells at its end what it left out.
"""

import os
import random
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

from tests.faults.bench import why_untraced
from tests.faults.commands import found_clinic
from tests.faults.everywhere import Everywhere
from tests.faults.oracle import warm_up

SIZES = ("quick", "ci", "full")


@pytest.fixture(scope="session")
def size() -> str:
    """How much of each family runs."""
    told = os.environ.get("FAULTS") or "quick"
    if told not in SIZES:
        pytest.fail(f"FAULTS is {told!r}; write one of {', '.join(SIZES)}")
    return told


QUICK_SEED = 281_500


@pytest.fixture(scope="session")
def seed(size: str) -> int:
    """What chance grows from; the same number draws the same faults again.

    A quick run always draws the same, because it is asked whether a change broke something; an old
    fault that a new draw happens upon is looked for by the larger sizes.
    """
    always = QUICK_SEED if size == "quick" else time.time_ns() % 1_000_000
    return int(os.environ.get("FAULTS_SEED") or always)


@pytest.fixture
def chance(seed: int, size: str) -> random.Random:
    """Chance for one test; a test that fails shows how to draw the same again."""
    print(f"FAULTS={size} FAULTS_SEED={seed}")
    return random.Random(seed)  # noqa: S311  Faults are drawn, not secrets.


@pytest.fixture
def report(size: str, seed: int) -> Callable[[str], None]:
    """Tells what was counted, also in the file that ``FAULTS_REPORT`` names."""
    began = time.monotonic()

    def told(line: str) -> None:
        line = f"{line} [{size}, seed {seed}, {time.monotonic() - began:.0f} s]"
        print(line)
        if name := os.environ.get("FAULTS_REPORT"):
            with Path(name).open("a", encoding="utf-8") as file:
                file.write(line + "\n")

    return told


@pytest.fixture(scope="session")
def benches() -> Iterator[Executor]:
    """Processes that hold the program loaded, so that a fault costs no start of Python.

    Where several processes run the tests each takes its share of the processors; two at least,
    because the last test that runs has the machine to itself.
    """
    share = (os.cpu_count() or 1) // int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    with ProcessPoolExecutor(max(2, share), get_context("spawn"), warm_up) as pool:
        yield pool


@pytest.fixture(scope="session")
def traces() -> None:
    """Whoever asks for this traces calls, and says so where that cannot be done."""
    if reason := why_untraced():
        (pytest.fail if os.environ.get("FAULTS") else pytest.skip)(f"NOT TRIED: {reason}")


@pytest.fixture(scope="session")
def clinics(traces: None, benches: Executor, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The clinic on which faults happen, and a desk without one; made once."""
    folder = tmp_path_factory.mktemp("clinics")
    benches.submit(found_clinic, folder).result()
    return folder


@pytest.fixture
def everywhere(
    benches: Executor, tmp_path: Path, size: str, chance: random.Random,
    report: Callable[[str], None],
) -> Everywhere:  # fmt: skip
    """Tries a fault at every call of a command."""
    return Everywhere(benches, tmp_path, size, chance, report)
