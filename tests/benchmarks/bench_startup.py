"""How quick a command is, from the shell to its end: ratios, never seconds.

Run it by hand: ``python tests/benchmarks/bench_startup.py [ROUNDS]``. Whole processes are timed
alternately, so that whatever else the computer does falls on both sides of a ratio, and medians
are compared. ``logbook case log`` stands against a bare script that imports the same libraries and
does one durable insert with the same settings; ``logbook due`` against the same with one select;
help, version and completion against importing click; a file of 200,000 cases against one of 200.
"""

import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, insert

from logbook.entries.base import Body
from logbook.entries.case import Case
from logbook.entries.clinic import Clinic, Staff
from logbook.entries.machine import Machine
from logbook.entries.service import ServicePlan
from logbook.entries.supplies import AbsorbentChange
from logbook.entries.vaporizer import Vaporizer, VaporizerFitting
from logbook.ledger.chain import Stored, first_break, link_hash
from logbook.ledger.connect import engine_for
from logbook.ledger.schema import entry
from logbook.ledger.store import Draft, head, ledger_uuid, new_id, stored_rows
from logbook.projections.project import rebuild
from logbook.recording.record import start_ledger
from logbook.times import utc_text

ROUNDS = 21
MANY, FEW = 200_000, 200
ZONE = ZoneInfo("America/Denver")
LAST = datetime(2025, 12, 31, 18, 0, tzinfo=UTC)
"""When the last of the built cases begins; those that are logged come after it."""
EVERY = timedelta(minutes=30)
MACHINES = tuple(f"bay{n}" for n in range(1, 7))
CHANGED_EVERY = 24
"""Cases of 20 minutes between two changes of the absorbent: eight hours."""

BARE = """
import sqlite3, sys
import click
from pydantic import BaseModel
from sqlalchemy import Column, Integer, MetaData, Table, Text, create_engine, event, insert, select
from sqlalchemy.pool import NullPool

class Row(BaseModel):
    seq: int
    body: str

table = Table("entry", MetaData(), Column("seq", Integer, primary_key=True), Column("body", Text))

def connect():
    raw = sqlite3.connect(sys.argv[1], isolation_level=None, timeout=10)
    for setting in ("journal_mode = delete", "synchronous = 3", "foreign_keys = 1",
                    "recursive_triggers = 1", "busy_timeout = 10000"):
        raw.execute(f"PRAGMA {setting}").fetchall()
    return raw

engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)

@event.listens_for(engine, "begin")
def begin(connection):
    connection.exec_driver_sql("BEGIN IMMEDIATE" if sys.argv[2] == "insert" else "BEGIN")

@click.command()
@click.argument("path")
@click.argument("what")
def main(path, what):
    with engine.begin() as connection:
        if what == "insert":
            row = Row(seq=int.from_bytes(__import__("os").urandom(6), "big"), body="{}")
            connection.execute(insert(table).values(row.model_dump()))
        else:
            row = connection.execute(select(table).limit(1)).first()
    click.echo(row)

main()
"""


def units(machines: tuple[str, ...]) -> Iterator[Body]:
    """Machines, each with a vaporizer and with its services planned."""
    for tag in machines:
        vaporizer = tag.replace("bay", "iso")
        yield Machine(machine=tag, absorbent_g="1200")
        yield Vaporizer(vaporizer=vaporizer, agent="isoflurane", capacity_ml="250")
        yield VaporizerFitting(vaporizer=vaporizer, machine=tag)
        for unit, item in ((tag, "service"), (vaporizer, "output verification")):
            yield ServicePlan(unit=unit, item=item, every="P12M", last="2025-12-01")


def work(
    cases: int, machines: tuple[str, ...], *, changes: bool
) -> Iterator[tuple[datetime, Body]]:
    """Cases and absorbent changes in the order of time; with a single change where told so."""
    turns = -(-cases // len(machines))
    for turn in range(turns):
        began = LAST - EVERY * (turns - 1 - turn)
        for place, tag in enumerate(machines):
            if turn == 0 or (changes and turn % CHANGED_EVERY == 0):
                yield began - timedelta(minutes=5), AbsorbentChange(machine=tag, mass_g="1200")
            if turn * len(machines) + place < cases:
                yield (
                    began,
                    Case(
                        machine=tag,
                        ended_at=began + timedelta(minutes=20),
                        circuit="adult rebreathing",
                        weight_g=str(2000 + 250 * ((turn + place) % 160)),
                        segments=[{"flow_ml_min": "1000", "dial_percent": "2"}],
                    ),
                )


def build(path: Path, cases: int, machines: tuple[str, ...], *, changes: bool) -> Path:
    """A ledger with so many cases, appended and projected in one transaction."""
    early = LAST - EVERY * cases - timedelta(days=1)
    clinic = Clinic(name="Bench", timezone=ZONE.key)
    founding = [Draft(body, early, "", new_id()) for body in (clinic, Staff(initials="KO"))]
    start_ledger(path, founding, ZONE, early)
    with engine_for(path, writes=True).begin() as connection:
        append_all(connection, ((early, body) for body in units(machines)))
        append_all(connection, work(cases, machines, changes=changes))
        rebuild(connection)
    return path


def append_all(connection: Connection, told: Iterator[tuple[datetime, Body]]) -> None:
    """Append many entries at once, each continuing the chain as ``store.append`` does."""
    last, previous = head(connection)
    rows = []
    for seq, (at, body) in enumerate(told, start=last + 1):
        utc, local = utc_text(at), at.astimezone(ZONE).isoformat(timespec="seconds")
        told_by = (new_id(), body.kind, utc, local, utc, local, "KO", body.canonical())
        row = Stored(seq, *told_by)
        previous = link_hash(previous, row)
        rows.append(asdict(row) | {"hash": previous})
    connection.execute(insert(entry), rows)
    assert first_break(ledger_uuid(connection), stored_rows(connection)) is None


Line = Callable[[], list[str]]


class Took(NamedTuple):
    """Seconds of one process: by the clock on the wall, and of the processor."""

    wall_s: float
    cpu_s: float


class Bench:
    """The commands to time, in a folder that is thrown away."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._logged: dict[Path, count[int]] = {}
        self._env = {
            **{k: v for k, v in os.environ.items() if not k.startswith("LOGBOOK")},
            "HOME": str(folder),
            "XDG_CONFIG_HOME": str(folder),
            "PYTHONDONTWRITEBYTECODE": "",
        }
        self._bare = folder / "bare.py"
        self._bare.write_text(BARE)

    def logbook(self, path: Path, *arguments: str) -> list[str]:
        """A command line of the installed program."""
        return [str(Path(sys.executable).with_name("logbook")), "--ledger", str(path), *arguments]

    def case_log(self, path: Path) -> Line:
        """Logs a case after all others; each call another one."""
        hours = self._logged.setdefault(path, count(1))

        def line() -> list[str]:
            began = LAST + timedelta(hours=next(hours))
            told = ("--circuit", "adult", "--weight", "24kg", "--flow", "1L/min", "--dial", "2")
            when = ("--began", began.isoformat(" ", "minutes"), "--ran", "20min")
            return self.logbook(path, "case", "log", "bay1", *when, *told, "--by", "KO")

        return line

    def due(self, path: Path) -> Line:
        """Asks what is due."""
        return lambda: self.logbook(path, "due", "--as-of", f"{LAST:%Y-%m-%d}")

    def bare(self, path: Path, what: str) -> Line:
        """The bare script with one insert or one select."""
        return lambda: [sys.executable, str(self._bare), str(path), what]

    def run(self, line: list[str], **more: str) -> Took:
        """One whole process."""
        before, began = os.times(), time.perf_counter()
        ran = subprocess.run(line, env=self._env | more, capture_output=True, check=False)
        wall_s, after = time.perf_counter() - began, os.times()
        assert ran.returncode in (0, 3), (line, ran.stderr.decode())
        user_s = after.children_user - before.children_user
        return Took(wall_s, user_s + after.children_system - before.children_system)

    def medians(self, lines: dict[str, Line], rounds: int, **more: str) -> dict[str, Took]:
        """The medians of each, from rounds in which every one has its turn."""
        took: dict[str, list[Took]] = {name: [] for name in lines}
        for turn in range(rounds + 1):
            for name in list(lines) if turn % 2 else reversed(lines):
                one = self.run(lines[name](), **more)
                if turn:  # The first round only warms the caches.
                    took[name].append(one)
        return {
            name: Took(*(statistics.median(column) for column in zip(*times, strict=True)))
            for name, times in took.items()
        }


def tell(name: str, ours: Took, theirs: Took, target: float) -> None:
    """One line of the result; the ratio of processor time is steadier where others work, too."""
    ratio, cpu = ours.wall_s / theirs.wall_s, ours.cpu_s / theirs.cpu_s
    mark = "" if ratio <= target else "  OVER"
    line = f"{name:<52} {ratio:5.2f} (target {target}), processor {cpu:5.2f}"
    print(f"{line}, {ours.wall_s * 1000:.0f} ms{mark}", flush=True)


def against_bare(bench: Bench, small: Path, rounds: int) -> None:
    """The two commands of every day against the bare script."""
    plain = small.with_name("bare.sqlite")
    with closing(sqlite3.connect(plain)) as raw:
        raw.execute("CREATE TABLE entry (seq INTEGER PRIMARY KEY, body TEXT) STRICT")
    lines = {
        "insert": bench.bare(plain, "insert"),
        "case log": bench.case_log(small),
        "select": bench.bare(plain, "select"),
        "due": bench.due(small),
    }
    took = bench.medians(lines, rounds)
    for ours, theirs in (("case log", "insert"), ("due", "select")):
        tell(f"logbook {ours} / bare {theirs}", took[ours], took[theirs], 1.3)


def against_click(bench: Bench, small: Path, rounds: int) -> None:
    """Help, version and completion against importing click."""
    lines: dict[str, Line] = {
        "click": lambda: [sys.executable, "-c", "import click"],
        "--help": lambda: bench.logbook(small, "--help"),
        "--version": lambda: bench.logbook(small, "--version"),
        "case log --help": lambda: bench.logbook(small, "case", "log", "--help"),
    }
    took = bench.medians(lines, rounds)
    for name in ("--help", "--version", "case log --help"):
        tell(f"logbook {name} / import click", took[name], took["click"], 1.5)
    completing: dict[str, Line] = {
        "click": lines["click"],
        "completion": lambda: [bench.logbook(small)[0]],
    }
    words = {"COMP_WORDS": "logbook case ", "COMP_CWORD": "2"}
    took = bench.medians(completing, rounds, _LOGBOOK_COMPLETE="bash_complete", **words)
    tell("logbook completion / import click", took["completion"], took["click"], 1.5)


def many_against_few(bench: Bench, small: Path, large: dict[str, Path], rounds: int) -> None:
    """A file of many cases against one of few."""
    lines = {"due few": bench.due(small), "case log few": bench.case_log(small)}
    for name, path in large.items():
        lines |= {f"due {name}": bench.due(path), f"case log {name}": bench.case_log(path)}
    took = bench.medians(lines, rounds)
    for name in large:
        for what in ("due", "case log"):
            told = f"{what}: {MANY:,} cases {name} / {FEW}"
            tell(told, took[f"{what} {name}"], took[f"{what} few"], 1.3)


def main() -> None:
    """Build the files, time, and print every ratio with its target."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        bench = Bench(folder)
        small = build(folder / "small.ledger", FEW, MACHINES, changes=True)
        against_bare(bench, small, rounds)
        against_click(bench, small, rounds)
        large = {
            "on six machines": build(folder / "six.ledger", MANY, MACHINES, changes=True),
            "on one machine": build(folder / "one.ledger", MANY, MACHINES[:1], changes=False),
        }
        many_against_few(bench, small, large, rounds)


if __name__ == "__main__":
    main()
