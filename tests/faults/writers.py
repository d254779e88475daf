"""Programs that write to one ledger at the same time, and what became of what they were told."""

import json
import os
import random
import re
import signal
import sqlite3
import time
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from logbook.cli import logbook
from logbook.cli.failures import run as run_command
from logbook.entries.book import Note
from logbook.errors import NotSaved
from logbook.ledger import connect
from logbook.ledger.connect import BUSY_TIMEOUT_MS
from logbook.ledger.store import Draft, new_id
from logbook.recording.opening import writing
from logbook.recording.record import record
from tests.conftest import NOW
from tests.faults.bench import JOURNAL, Place, fresh
from tests.faults.oracle import BODY, entries, plain, typed, whole

IN_USE = re.compile(r".+ was in use by another program for more than 10 seconds; try again")


def started(work: Callable[[], None]) -> int:
    """A process that does a piece of work."""
    child = os.fork()
    if not child:
        try:
            work()
            os._exit(0)
        finally:
            os._exit(1)
    return child


def type_notes(place: Place, name: str) -> None:
    """Type notes without end; what is told as saved goes to a file of the writer's own."""
    place.settle_in()
    for number, said in ((1, f"out-{name}"), (2, f"err-{name}")):
        os.dup2(os.open(place.folder / said, os.O_WRONLY | os.O_CREAT), number)
    for number in range(10**6):
        run_command(logbook, ["note", f"{name} {number}"])


def append_notes(place: Place, name: str, count: int) -> None:
    """Record notes one by one as commands do; each is written down once it is told as saved."""
    refusals = 0
    with (place.folder / f"out-{name}").open("w") as out:
        for number in range(count):
            draft = Draft(Note(text=f"{name} {number}"), NOW, "KO", new_id())
            while True:
                began = time.monotonic()
                try:
                    with writing(place.ledger) as book:
                        seq = record(book, draft, NOW).entry.seq
                    break
                except NotSaved as error:
                    waited_s = time.monotonic() - began
                    if not IN_USE.fullmatch(str(error)) or waited_s < BUSY_TIMEOUT_MS / 1000:
                        raise  # Whoever says that it waited so long must have done so.
                    refusals += 1
            print(f"Saved entry {seq}: note, {name} {number},", file=out, flush=True)
    (place.folder / f"refusals-{name}").write_text(str(refusals))


@dataclass(frozen=True)
class Tally:
    """What writers were told, against what is there."""

    told: int
    untold: int
    """Notes that are there although nobody was told."""
    hot: bool
    breaches: list[str]


SAVED = re.compile(r"Saved entry ([0-9]+): note, ([a-z]+ [0-9]+),")
OWN_NOTE = re.compile(r"(([a-z]+) ([0-9]+))")


def tally(place: Place, before: Sequence[tuple[object, ...]], names: str, spare: int) -> Tally:
    """Hold what stands there against what was told; ``spare`` is how many notes of each writer may
    be there untold."""
    place.settle_in()
    hot = place.is_hot()
    rows = entries(place.ledger)
    breaches = [] if rows[: len(before)] == list(before) else ["what stood there has changed"]
    there = {int(str(row[0])): json.loads(str(row[BODY]))["text"] for row in rows[len(before) :]}
    all_told = 0
    for name in names:
        told = SAVED.findall((place.folder / f"out-{name}").read_text())
        all_told += len(told)
        lost = [text for seq, text in told if there.get(int(seq)) != text]
        own = [found[3] for found in map(OWN_NOTE.fullmatch, there.values()) if found[2] == name]
        if lost:
            breaches.append(f"{len(lost)} of {name} are lost, {lost[0]!r} the first")
        if own != [str(number) for number in range(len(own))]:
            breaches.append(f"the notes of {name} are doubled or out of order: {own[-5:]}")
        if not len(told) <= len(own) <= len(told) + spare:
            breaches.append(f"{name} was told of {len(told)} notes, and {len(own)} are there")
    breaches += whole(place.ledger)
    breaches += plain("due", typed(place, "due"), 0, 3)
    breaches += plain("a note", typed(place, "note", "after all"), 0)
    return Tally(all_told, len(there) - all_told, hot, breaches)


def killed_writers(start: Place, folder: Path, seed: int) -> Tally:
    """Two writers at work, killed at moments that chance chooses."""
    chance = random.Random(seed)  # noqa: S311
    place = start.copy(folder)
    before = entries(place.ledger)
    writers = [started(lambda name=name: type_notes(place, name)) for name in "ab"]
    _wait_for_notes(place, chance.randint(1, 8))
    if chance.random() < 0.8:
        _wait_for_a_journal(place)
    time.sleep(chance.uniform(0, 0.003))
    for writer in writers:
        os.kill(writer, signal.SIGKILL)
        time.sleep(chance.choice((0, chance.uniform(0, 0.02))))
    for writer in writers:
        os.waitpid(writer, 0)
    told: Tally = fresh(tally, place, before, "ab", 1)
    return told


def _wait_for_notes(place: Place, count: int) -> None:
    """Wait until writers were told of some notes; a machine that is busy itself takes its time."""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        told = [one.read_text().count("Saved") for one in place.folder.glob("out-*")]
        if sum(told) >= count:
            return
        time.sleep(0.005)
    raise TimeoutError(f"no {count} notes were told as saved within a minute")


def _wait_for_a_journal(place: Place) -> None:
    """Wait until somebody saves: little of a command's time is saving."""
    journal = place.ledger.with_name(place.ledger.name + JOURNAL)
    until = time.monotonic() + 5
    while not journal.exists() and time.monotonic() < until:
        pass


def busy_writers(start: Place, folder: Path, names: str, each: int) -> tuple[Tally, int]:
    """Writers that all append at once; answers also how often one was refused and tried again."""
    place = start.copy(folder)
    before = entries(place.ledger)
    writers = [started(lambda name=name: append_notes(place, name, each)) for name in names]
    ended = [os.waitpid(writer, 0)[1] for writer in writers]
    told: Tally = fresh(tally, place, before, names, 0)
    if any(ended):
        told.breaches.append(f"writers ended with {ended}")
    refusals = [place.folder / f"refusals-{name}" for name in names]
    return told, sum(int(one.read_text()) for one in refusals if one.exists())


def hold(ledger: Path, seconds: float) -> Callable[[], None]:
    """Take the lock and write, as a program does that is stopped in the middle of its work."""

    def work() -> None:
        with closing(sqlite3.connect(ledger, isolation_level=None)) as raw:
            raw.execute("BEGIN IMMEDIATE")
            raw.execute("INSERT INTO person VALUES ('ZZ', 'nobody')")
            time.sleep(seconds)
            raw.execute("ROLLBACK")

    return work


def impatient() -> None:
    """Wait a twentieth of the time for the lock, so that a quick run is quick."""
    connect.BUSY_TIMEOUT_MS = 500
