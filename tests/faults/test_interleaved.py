"""Two commands at once, at every interleaving: one stands still after each of its calls, the other
runs whole, and the first goes on. What either of them said is true afterwards."""

import json
import random
import re
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

import pytest

from logbook.ledger import connect
from tests.faults.bench import Call, Place, Ran, run, stopped_at, traced
from tests.faults.commands import KEPT_BY_BACKUP
from tests.faults.oracle import ASIDE, BODY, KIND, Row, entries, litter, whole
from tests.faults.trials import all_of, drawn

RESTORE = ("restore", "{folder}/old.ledger", "--go", "--because")
NEW = ("--timezone", "America/Denver")
BACKUP = ("backup", "{desk}/copy.ledger")


@dataclass(frozen=True)
class Pair:
    """Two commands; ``empty`` where there is no ledger when they begin."""

    first: tuple[str, ...]
    second: tuple[str, ...]
    empty: bool = False

    @property
    def name(self) -> str:
        """What stands in the report."""
        beginning = "without a ledger, " if self.empty else ""
        return f"{beginning}{self.first[0]} and {self.second[0]}"


PAIRS = (
    Pair(("new", "First", *NEW), ("new", "Second", *NEW), empty=True),
    Pair((*RESTORE, "first"), ("new", "Second", *NEW), empty=True),
    Pair(("new", "First", *NEW), (*RESTORE, "second"), empty=True),
    Pair((*RESTORE, "first"), (*RESTORE, "second"), empty=True),
    Pair((*RESTORE, "first"), (*RESTORE, "second")),
    Pair((*RESTORE, "first"), ("note", "second")),
    Pair((*RESTORE, "first"), BACKUP),
    Pair(BACKUP, BACKUP),
    Pair(BACKUP, (*RESTORE, "second")),
    Pair(BACKUP, ("note", "second")),
    Pair(("note", "first"), (*RESTORE, "second")),
)
TRY_AGAIN = re.compile(
    # Whoever looked at the file that was just replaced is told that it is another, too.
    r"(This ledger is not the one used here before[^\n]+\n)?"
    r"Not done, nothing saved: [^\n]+(try again|look what it is first)\.\n"
)
TAKEN = re.compile(r"Not done, nothing saved: [^\n]+ exists already; [^\n]+\.\n")


def start_of(pair: Pair, clinics: Path, folder: Path) -> Place:
    """The desk before both: the backup that is restored lies beside it."""
    start = Place(clinics / ("empty" if pair.empty else "clinic")).copy(folder)
    shutil.copyfile(clinics / "clinic" / "desk" / "old.ledger", folder / "old.ledger")
    return start


def words_of(place: Place, words: tuple[str, ...]) -> list[str]:
    return [word.replace("{folder}", str(place.folder)) for word in words]


def hasty() -> None:
    """Wait for a lock only as long as a test can."""
    connect.BUSY_TIMEOUT_MS = 150


def calls_of(start: Place, folder: Path, pair: Pair) -> list[Call]:
    """The calls of the first command where nobody comes between."""
    place = start.copy(folder)
    _, calls = traced(place, words_of(place, pair.first), saying=False, change=hasty)
    return calls


def meet(start: Place, folder: Path, pair: Pair, call: Call) -> list[str]:
    """Let the second command run whole while the first stands still after a call."""
    place = start.copy(folder)
    before = entries(place.ledger) if not pair.empty else []
    seconds: list[Ran] = []

    def second() -> None:
        seconds.append(run(place, words_of(place, pair.second), hasty, "second "))

    first, _ = traced(
        place, words_of(place, pair.first), stopped_at(call), saying=False, change=hasty,
        meanwhile=second,
    )  # fmt: skip
    breaches = [] if seconds else ["the first never stood still"]
    for other in seconds:
        breaches += judged(place, pair, first, other, before)
    shutil.rmtree(folder)
    return [f"{pair.name}, stopped after {call.shown}: {breach}" for breach in breaches]


def judged(place: Place, pair: Pair, first: Ran, second: Ran, before: list[Row]) -> Iterator[str]:
    for ran in (first, second):
        saved = ran.code == 0 and ran.out and not ran.err
        refused = (ran.code == 5 and TRY_AGAIN.fullmatch(ran.err)) or (
            ran.code == 2 and TAKEN.fullmatch(ran.err)
        )
        if not saved and (not refused or ran.out):
            yield f"it said, with code {ran.code}: {ran.out}{ran.err}"
    if first.code and second.code:
        yield f"neither was done: {first.err}{second.err}"
    now = entries(place.ledger)
    kept = [now, *(entries(one) for one in place.desk.glob(f"{ASIDE}*"))]
    if before and before not in [rows[: len(before)] for rows in kept]:
        yield "what stood there before is nowhere"
    for words, ran in ((pair.first, first), (pair.second, second)):
        if ran.code == 0 and not is_there(place, words, kept):
            yield f"{words[0]} said that it was done, and is nowhere"
    yield from whole(place.ledger)
    yield from uncounted(now, kept)
    yield from litter(place)


def is_there(place: Place, words: tuple[str, ...], kept: list[list[Row]]) -> bool:
    """Whether what a command does was done: a whole backup, or an entry of its words."""
    copy = place.desk / "copy.ledger"
    if words[0] == "backup":
        return copy.exists() and not list(whole(copy))
    said = words[-1] if words[0] != "new" else words[1]
    return any(said in json.loads(str(row[BODY])).values() for rows in kept for row in rows)


def uncounted(now: list[Row], kept: list[list[Row]]) -> Iterator[str]:
    """A restore counts every entry that it lacks: nobody writes once they are counted."""
    last = now[-1] if now and now[-1][KIND] == "restore" else None
    if last is None:
        return
    told = json.loads(str(last[BODY]))
    longest = max((rows for rows in kept if rows != now), key=len, default=[])
    lost = len(longest) - KEPT_BY_BACKUP if longest[:KEPT_BY_BACKUP] == now[:-1] else None
    if lost is not None and told.get("lost_entries") != lost:
        yield f"the restore tells {told.get('lost_entries')} lost entries, and {lost} are"


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.name)
def test_two_commands_that_meet_at_any_call_keep_what_both_said(
    benches: Executor, clinics: Path, tmp_path: Path, pair: Pair, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    start = start_of(pair, clinics, tmp_path / "start")
    calls = benches.submit(calls_of, start, tmp_path / "calls", pair).result()
    numbers = drawn(calls, size, chance, quick=2)
    jobs = [(start, tmp_path / str(number), pair, calls[number]) for number in numbers]
    breaches = [breach for one in all_of(benches, meet, jobs) for breach in one]
    report(
        f"two commands that meet, {pair.name}: at {len(numbers)} of {len(calls)} calls, "
        f"{len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)
