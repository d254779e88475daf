"""What must hold after a fault, asked in a process of its own; every breach is a sentence.

The entries are read with nothing but SQLite, from a copy of the file and its journal, so that the
question of what is there does not hang on the code under test.
"""

import gc
import hashlib
import io
import os
import re
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

from logbook import verify_standalone
from logbook.cli import logbook
from logbook.cli.failures import run as run_command
from logbook.errors import LogbookError
from logbook.proof.verify import verify
from tests.faults.bench import JOURNAL, Place, Ran
from tests.faults.commands import COMMANDS_THAT_WRITE, KEPT_BY_BACKUP, Writing, found_clinic
from tests.faults.posts import POST, post

Row = tuple[object, ...]
"""An entry as stored, every column."""
KIND, BY, BODY = 2, 7, 8
REFUSED = re.compile(r"Not done, nothing saved: [^\n]+\.\n")
SENTENCE = re.compile(r"[A-Z][^\n]+\.\n")
ASIDE = "clinic.ledger.replaced-*Z"
UNKNOWN = re.compile(r"It is not known whether this was saved: [^\n]+\.\n")


def entries(ledger: Path) -> list[Row]:
    """Every entry as the next program will find it, byte for byte, without touching the file."""
    with _copied(ledger) as copy, closing(sqlite3.connect(copy)) as raw:
        return raw.execute("SELECT * FROM entry ORDER BY seq").fetchall()


def kept(ledger: Path) -> list[Row]:
    """Every answer of a check that is not finished, as the next program will find it."""
    with _copied(ledger) as copy, closing(sqlite3.connect(copy)) as raw:
        query = """SELECT item, answer, "by" FROM unfinished_answer ORDER BY item"""
        return raw.execute(query).fetchall()


@contextmanager
def _copied(ledger: Path) -> Iterator[Path]:
    """A copy together with its journal; what lies on the desk stays as the fault left it."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        for end in ("", JOURNAL):
            if (part := Path(f"{ledger}{end}")).exists():
                shutil.copyfile(part, f"{copy}{end}")
        yield copy


def state_of(ledger: Path) -> str:
    """A short name for the very bytes that the next program will find."""
    with _copied(ledger) as copy:
        with closing(sqlite3.connect(copy)) as raw:
            # SQLite plays the journal back at the first read.
            raw.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        return hashlib.sha256(copy.read_bytes()).hexdigest()


def meanings(rows: Sequence[Row]) -> list[Row]:
    """What entries say, without their number, identity and time, which no two runs share."""
    return [(row[KIND], row[BY], row[BODY]) for row in rows]


def whole(ledger: Path) -> Iterator[str]:
    """Chain, guards and projections, as the program sees them and as a stranger's program does."""
    try:
        for finding in verify(ledger).findings:
            yield f"verify: {finding.sentence}"
    except LogbookError as error:
        yield f"verify: {error}"
    yield from chained(ledger)


def chained(ledger: Path) -> Iterator[str]:
    """Chain and guards alone, which a stranger's program sees in no time."""
    with _copied(ledger) as copy, redirect_stdout(io.StringIO()) as said:
        code = verify_standalone.main([str(copy)])
    if code:
        yield f"verify_standalone exits {code}: {said.getvalue().strip()}"


def warm_up() -> None:
    """Let a bench work once, so that its forks need not import and compile everything anew."""
    with tempfile.TemporaryDirectory() as folder:
        found_clinic(Path(folder))
        place = Place(Path(folder) / "clinic")
        place.settle_in()
        for command in COMMANDS_THAT_WRITE[1:]:
            typed(place, *command.words)
        typed(place, "due")
        list(whole(place.ledger))
        os.chdir("/")
    tempfile.tempdir = None
    # What stands now is never collected, so the forks go on sharing it with the bench.
    gc.freeze()


def typed(place: Place, *words: str) -> Ran:
    """Run a command inside this process, as a person would type it next."""
    with redirect_stdout(io.StringIO()) as out, redirect_stderr(io.StringIO()) as err:
        form = words[0] == POST
        code = post(words[1:]) if form else run_command(logbook, place.words(words))
    return Ran(code, out.getvalue(), err.getvalue())


def plain(what: str, ran: Ran, *codes: int) -> Iterator[str]:
    """A command that must have gone well: a known code, and nothing on stderr."""
    if ran.code not in codes or ran.err or not ran.out:
        yield f"{what} exits {ran.code}: {ran.err or ran.out!r}"


def refused(what: str, ran: Ran, code: int, sentence: re.Pattern[str] = REFUSED) -> Iterator[str]:
    """A command that must have failed in one sentence, with one documented code."""
    if ran.code != code or ran.out or not sentence.fullmatch(ran.err):
        yield f"{what} exits {ran.code}: {ran.out}{ran.err}"


@dataclass(frozen=True)
class Expected:
    """What stood before the fault, and what the command does where nothing hinders it."""

    command: Writing
    before: list[Row]
    added: list[Row]
    """The meanings of the entries that it adds."""
    code: int


@dataclass(frozen=True)
class Said:
    """What the command could say before or in spite of the fault.

    ``saved`` is None where it said nothing, or that it does not know; ``to_the_end`` is whether it
    ended by itself, after which the same words are a command of their own.
    """

    saved: bool | None
    to_the_end: bool


@dataclass(frozen=True)
class Aftermath:
    """What was found after a fault: the breaches, whether the change is there, and the state.

    ``saved`` is None where nothing shows it, as after a rebuild.
    """

    breaches: list[str]
    saved: bool | None
    state: str


VERIFIED: set[str] = set()
"""States that were verified before: most faults leave, byte for byte, what stood there."""


def aftermath(place: Place, expected: Expected, said: Said, number: int) -> Aftermath:
    """Look at everything after a fault, and go on working as if nothing had been."""
    place.settle_in()
    look = _LOOKS.get(expected.command.name, _after_appending)
    before = _rows_now(place)
    breaches, saved = look(place, expected, before)
    if said.saved and saved is False:
        breaches.append("what was told as saved is lost")
    if said.saved is False and saved:
        breaches.append("what was told as not saved is saved")
    state = state_of(place.ledger)
    if before is not None and state not in VERIFIED:
        breaches += whole(place.ledger)
    if number % 2 == 1 and expected.command.name != "new":
        breaches += plain("due, first of all,", typed(place, "due"), 0, 3)
    done_in_spite_of_it = said.saved and said.to_the_end
    if not done_in_spite_of_it:
        breaches += _typed_again(place, expected, saved=saved)
    breaches += _goes_on(place, expected)
    if not done_in_spite_of_it:  # Else the disk itself may have refused to take a file away.
        breaches += litter(place)
    if not breaches:
        thorough = saved or number % 5 == 0
        breaches += (whole if thorough else chained)(place.ledger)
    return Aftermath(breaches, saved, state)


def _rows_now(place: Place) -> list[Row] | None:
    return entries(place.ledger) if place.ledger.exists() else None


Look = tuple[list[str], bool | None]


def _after_appending(_place: Place, expected: Expected, rows: list[Row] | None) -> Look:
    """All that stood there, and then all that the command adds or none of it."""
    if rows is None:
        return ["the ledger is gone"], False
    old, new = rows[: len(expected.before)], rows[len(expected.before) :]
    breaches = [] if old == expected.before else ["entries that were acknowledged have changed"]
    if new and meanings(new) != expected.added:
        breaches.append(f"{len(new)} entries are new, which are not what was typed")
    return breaches, bool(new)


def _after_founding(_place: Place, expected: Expected, rows: list[Row] | None) -> Look:
    """A new ledger appears whole or not at all."""
    if rows is None:
        return [], False
    wrong = meanings(rows) != expected.added
    return (["the new ledger does not hold its first entry"] if wrong else []), True


def _after_backup(place: Place, expected: Expected, rows: list[Row] | None) -> Look:
    """The ledger is as it was, and the copy is whole or not there."""
    breaches = [] if rows == expected.before else ["a backup changed the ledger"]
    target = place.desk / "copy.ledger"
    if not target.exists():
        return breaches, False
    if entries(target) != expected.before:
        breaches.append("the backup lacks entries")
    return [*breaches, *whole(target)], True


def _after_restore(place: Place, expected: Expected, rows: list[Row] | None) -> Look:
    """The ledger is the one that stood there or the restored one; the old one is never lost."""
    if rows is None:
        return ["a restore left no ledger in its place"], False
    if rows == expected.before:
        return [], False
    kept = expected.before[:KEPT_BY_BACKUP]
    breaches = []
    if rows[:KEPT_BY_BACKUP] != kept or meanings(rows[KEPT_BY_BACKUP:]) != expected.added:
        breaches.append("the restored ledger is not the backup and its entry of the restore")
    asides = [entries(one) for one in place.desk.glob(ASIDE)]
    if expected.before not in asides:
        breaches.append("the ledger that was replaced is nowhere")
    return breaches, True


def _after_rebuild(place: Place, expected: Expected, rows: list[Row] | None) -> Look:
    """What writes beside the chain adds no entry."""
    breaches, added = _after_appending(place, expected, rows)
    return ([*breaches, "entries were added"] if added else breaches), None


def _after_keeping(place: Place, expected: Expected, rows: list[Row] | None) -> Look:
    """An answer is kept beside the chain, which stays as it is."""
    breaches, _ = _after_rebuild(place, expected, rows)
    answers = kept(place.ledger)
    if len(answers) > 1:
        breaches.append(f"one answer was sent, and kept is {answers}")
    return breaches, bool(answers)


_LOOKS = {
    "new": _after_founding,
    "backup": _after_backup,
    "restore": _after_restore,
    "rebuild": _after_rebuild,
    "forecast show": _after_rebuild,
    "post answer": _after_keeping,
}
NEVER_REPLACED = {"new": "clinic.ledger", "backup": "copy.ledger"}
"""Commands whose second run is refused, because what they make stands there already."""


def _typed_again(place: Place, expected: Expected, *, saved: bool | None) -> Iterator[str]:
    """Whoever was not told types the same once more, and it is there once."""
    command = expected.command
    if (saved or list(place.desk.glob(ASIDE))) and not command.has_a_time:
        time.sleep(1.1)  # Whoever types it again does so in another second.
    again = typed(place, *command.words)
    if saved and command.name in NEVER_REPLACED:
        yield from refused("the same command again", again, 2)
    else:
        yield from plain("the same command again", again, expected.code)
    if command.name not in _LOOKS:
        new = meanings(entries(place.ledger)[len(expected.before) :])
        if new != expected.added:
            yield f"typed twice, the command stands there as {len(new)} entries"


def _goes_on(place: Place, expected: Expected) -> Iterator[str]:
    """A note and a question need no step by hand."""
    if expected.command.name == "new":
        yield from plain("staff add", typed(place, "staff", "add", "KO", "Day lead"), 0)
    before = entries(place.ledger)
    yield from plain("a note", typed(place, "note", "after the fault"), 0)
    yield from plain("due", typed(place, "due"), 0, 3)
    if entries(place.ledger)[:-1] != before:
        yield "the note changed what stood before it"


LEFT = re.compile(r"(old|copy|clinic)\.ledger(\.replaced-\w+Z(-\d)?|\.before-\d+)?")


def litter(place: Place) -> Iterator[str]:
    """Files that nobody needs once the next command has worked."""
    for one in sorted(place.desk.iterdir()):
        if not LEFT.fullmatch(one.name):
            yield f"{one.name} is left lying about"
