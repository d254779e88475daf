"""How quick an answer is however long the record: processor time, and ratios of one run.

``python tests/benchmarks/bench_answers.py WEEK YEARS [ROUNDS]``: two ledgers of the same machines
that ``make_ledger.py`` wrote, of one week and of many years. Whole processes are timed in turns on
both; then each answer in a warm process on the short one, beside a bare ``select 1``. The long one
is logged into, so keep a copy of it.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

from sqlalchemy import select

from logbook.answers.board import board
from logbook.answers.due import due
from logbook.answers.moment import end_of
from logbook.answers.ready import ready
from logbook.recording.opening import reading

DAY = date(2025, 12, 31)
ROUNDS = 11
READ = {
    name: [*words, "--as-of", DAY.isoformat()]
    for name, words in {
        "board": ["board"],
        "ready": ["ready", "bay1"],
        "due": ["due"],
        "history": ["history", "bay1"],
    }.items()
}
CASE = ["--ran", "20min", "--circuit", "adult", "--flow", "1L/min", "--dial", "2", "--by", "KO"]


def whole(ledger: Path, words: list[str], folder: str) -> float:
    """Processor seconds of one whole process."""
    logbook = str(Path(sys.executable).with_name("logbook"))
    own = {**os.environ, "HOME": folder, "XDG_CONFIG_HOME": folder}
    before = os.times()
    line = [logbook, "--ledger", str(ledger), *words]
    ran = subprocess.run(line, env=own, capture_output=True, check=False)
    assert ran.returncode in (0, 3), ran.stderr.decode()
    after = os.times()
    user_s = after.children_user - before.children_user
    return user_s + after.children_system - before.children_system


def flat(week: Path, years: Path, rounds: int) -> None:
    """Each command on both ledgers in turns; the first round only warms the caches."""
    hours = iter(range(24 * 365))
    with tempfile.TemporaryDirectory() as folder:
        for name in [*READ, "case log"]:
            took: dict[Path, list[float]] = {week: [], years: []}
            for turn in range(rounds + 1):
                for ledger, times in took.items():
                    hour = next(hours)
                    began = f"2026-01-{1 + hour // 12:02} {8 + hour % 12:02}:00"
                    logged = ["case", "log", "bay1", "--began", began, *CASE]
                    one = whole(ledger, READ.get(name, logged), folder)
                    if turn:
                        times.append(one)
            short, long = (statistics.median(times) for times in took.values())
            told = f"{short * 1000:.0f} ms, {long * 1000:.0f} ms"
            print(f"{name:<10} years / week {long / short:5.2f} (target 1.3), {told}", flush=True)


def warm(week: Path, rounds: int) -> None:
    """Each answer in a process that has its statements compiled, beside a bare select."""
    with reading(week) as book:
        moment, connection = end_of(DAY, book.zone), book.connection
        answers: dict[str, Callable[[], object]] = {
            "select 1": lambda: connection.execute(select(1)).scalar(),
            "board": lambda: board(connection, moment),
            "ready": lambda: ready(connection, moment, "bay1"),
            "due": lambda: due(connection, moment),
        }
        bare_ms = 0.0
        for name, answer in answers.items():
            times = []
            for _ in range(rounds + 1):
                before = time.process_time()
                answer()
                times.append(time.process_time() - before)
            took_ms = statistics.median(times[1:]) * 1000
            bare_ms = bare_ms or took_ms
            print(f"{name:<10} {took_ms:7.2f} ms, {took_ms / bare_ms:6.0f} times select 1")


def main() -> None:
    """Time what the command line names."""
    week, years = Path(sys.argv[1]), Path(sys.argv[2])
    rounds = int(sys.argv[3]) if len(sys.argv) > 3 else ROUNDS
    flat(week, years, rounds)
    warm(week, rounds)


if __name__ == "__main__":
    main()
