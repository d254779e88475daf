"""Runs the command line in processes of its own, under strace where a call is to fail.

A bench is a process that has the program loaded. It forks for every command, so that each command
begins as a fresh process does, and strace is attached to the fork before the command begins.
"""

import os
import pickle
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from logbook.cli import main
from logbook.ledger.schema import HEAD
from tests.faults.posts import POST, post

CALLS = (
    "openat", "pwrite64", "write", "fsync", "fdatasync", "ftruncate",
    "unlink", "unlinkat", "rename", "renameat", "renameat2", "link", "linkat", "mkdir", "rmdir",
)  # fmt: skip
"""Every call by which the program changes a folder, and the openings before it."""
TRACED = ",".join(f"?{name}" for name in CALLS)
"""Asked with a question mark, because not every processor has each of them."""
CRASHED = 70
"""The exit code of a command that let an exception through."""
JOURNAL = "-journal"
NEXT = f"{int(HEAD) + 1:04}"
"""The number of the migration that does not exist yet."""


@dataclass(frozen=True)
class Place:
    """A folder for one trial: the desk with the ledger on it, and the program's own memory."""

    folder: Path
    by: str = "KO"
    """Who signs there."""

    @property
    def desk(self) -> Path:
        """The folder in which faults happen."""
        return self.folder / "desk"

    @property
    def ledger(self) -> Path:
        """The ledger itself."""
        return self.desk / "clinic.ledger"

    def is_hot(self) -> bool:
        """Whether a journal lies there that has something to be played back."""
        journal = self.ledger.with_name(self.ledger.name + JOURNAL)
        return journal.exists() and any(journal.read_bytes()[:8])

    def copy(self, to: Path) -> "Place":
        """The same state somewhere else."""
        shutil.copytree(self.folder, to, symlinks=True)
        return Place(to, self.by)

    def settle_in(self) -> None:
        """Make this process one that works at this desk."""
        os.environ.update(
            LOGBOOK_LEDGER=str(self.ledger),
            LOGBOOK_BY=self.by,
            XDG_CONFIG_HOME=str(self.folder / "config"),
        )
        tempfile.tempdir = str(self.folder)
        os.chdir(self.folder)

    def words(self, words: Sequence[str]) -> list[str]:
        """A command's words with the desk's own path in them."""
        return [word.replace("{desk}", str(self.desk)) for word in words]

    def watched(self) -> list[Path]:
        """Every path on the desk whose calls count."""
        names = [self.ledger, self.desk / "copy.ledger"]
        names.append(self.ledger.with_name(f"{self.ledger.name}.before-{NEXT}"))
        places = [one.with_name(f".{one.name}.part-{n}") for one in names for n in (1, 2)]
        every = [*names, *(place / "ledger" for place in places)]
        journals = [one.with_name(one.name + JOURNAL) for one in every]
        return [self.desk, *places, *every, *journals]


@dataclass(frozen=True)
class Ran:
    """How a command ended; a negative code is the signal that ended it."""

    code: int
    out: str
    err: str


@dataclass(frozen=True)
class Call:
    """One call on the desk: its name, and how many of that name came before it, and itself."""

    name: str
    nth: int
    shown: str

    @property
    def file(self) -> str:
        """The name of the file that is first named in it."""
        found = re.search(r"/desk(/[^>\"]*)?[>\"]", self.shown)
        return (found[1] or "/") if found else ""


Change = Callable[[], None]
"""What is done in the fork before the command begins, such as a limit of the system."""


def run(place: Place, words: Sequence[str], change: Change | None = None, voice: str = "") -> Ran:
    """Run a command in a fork; answer how it ended. Two at once need a ``voice`` each."""
    child, go = _fork(place, words, change, voice)
    return _ended(place, child, go, voice)


def traced(
    place: Place, words: Sequence[str], faults: Sequence[str] = (), *, saying: bool = True,
    change: Change | None = None, meanwhile: Change | None = None,
) -> tuple[Ran, list[Call]]:  # fmt: skip
    """Run a command under strace with faults injected; answer how it ended, and its calls.

    ``saying`` counts the writing of what was saved as well; ``meanwhile`` is done where a fault
    stops the command, which then goes on.
    """
    child, go = _fork(place, words, change)
    paths = [*place.watched(), *([place.folder / "out"] if saying else [])]
    options = [word for path in paths for word in ("-P", str(path))]
    options += [word for fault in faults for word in ("-e", f"inject={fault}")]
    trace = place.folder / "trace"
    with subprocess.Popen(
        ["strace", "-y", "-o", trace, "-e", f"trace={TRACED}", *options, "-p", str(child)],
        stderr=subprocess.PIPE,
        text=True,
    ) as strace:
        said = strace.stderr.readline() if strace.stderr else ""
        ran = _ended(place, child, go, meanwhile=meanwhile)
    if "attached" not in said:
        raise RuntimeError(f"strace could not be attached, so no fault was tried: {said.strip()}")
    return ran, _calls(trace.read_text("utf-8", "replace"))


def _fork(
    place: Place, words: Sequence[str], change: Change | None, voice: str = ""
) -> tuple[int, int]:
    """A process that waits at the begin of a command, and what lets it go."""
    wait, go = os.pipe()
    flags = os.O_RDWR | os.O_CREAT | os.O_TRUNC
    # Opened before the fork: whoever traces it from some moment on would count this, or would not.
    said = [os.open(place.folder / f"{voice}{name}", flags, 0o666) for name in ("out", "err")]
    child = os.fork()
    if child:
        for handle in (wait, *said):
            os.close(handle)
        return child, go
    try:
        os.close(go)
        for number, handle in enumerate(said, start=1):
            os.dup2(handle, number)
            os.close(handle)
        os.read(wait, 1)
        _command(place, words, change)
    finally:
        os._exit(CRASHED)


def _command(place: Place, words: Sequence[str], change: Change | None) -> None:
    """The whole life of a command, as the installed program leads it."""
    place.settle_in()
    code: Any = CRASHED
    sys.argv = ["logbook", *place.words(words)]
    try:
        if change:
            change()
        if words[0] == POST:
            sys.exit(post(words[1:]))
        main()
    except SystemExit as stop:
        code = stop.code
    except BaseException:
        traceback.print_exc()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)


def _ended(
    place: Place, child: int, go: int, voice: str = "", meanwhile: Change | None = None
) -> Ran:
    os.write(go, b".")
    os.close(go)
    _, status = os.waitpid(child, os.WUNTRACED)
    if os.WIFSTOPPED(status):
        try:
            if meanwhile:
                meanwhile()
        finally:
            os.kill(child, signal.SIGCONT)
        _, status = os.waitpid(child, 0)
    said = [
        (place.folder / f"{voice}{name}").read_text("utf-8", "replace") for name in ("out", "err")
    ]
    return Ran(os.waitstatus_to_exitcode(status), *said)


def _calls(trace: str) -> list[Call]:
    """The calls in the order in which they were made."""
    seen: Counter[str] = Counter()
    calls = []
    for line in trace.splitlines():
        if found := re.match(r"(\w+)\(", line):
            seen[found[1]] += 1
            calls.append(Call(found[1], seen[found[1]], line))
    return calls


def fresh(function: Callable[..., Any], *given: Any) -> Any:
    """What a function answers in a fork of its own, so that nothing of a fault lives on."""
    reads, writes = os.pipe()
    child = os.fork()
    if not child:
        try:
            answer = function(*given)
        except BaseException:
            answer = RuntimeError(traceback.format_exc())
        with os.fdopen(writes, "wb") as pipe:
            pickle.dump(answer, pipe)
        os._exit(0)
    os.close(writes)
    with os.fdopen(reads, "rb") as pipe:
        told = pipe.read()
    os.waitpid(child, 0)
    answer = pickle.loads(told)  # noqa: S301  The fork is this program.
    if isinstance(answer, RuntimeError):
        raise answer
    return answer


def killed_at(call: Call) -> list[str]:
    """The fault that ends the program where it is about to make a call."""
    return [f"{call.name}:signal=SIGKILL:when={call.nth}"]


def stopped_at(call: Call) -> list[str]:
    """The fault that lets the program stand still once a call is made."""
    return [f"{call.name}:signal=SIGSTOP:when={call.nth}"]


def fails_at(calls: Sequence[Call], number: int, error: str, *, for_good: bool) -> list[str]:
    """The fault that lets one call fail, or that call and all that follow."""
    if not for_good:
        return [f"{calls[number].name}:error={error}:when={calls[number].nth}"]
    before = Counter(call.name for call in calls[:number])
    return [f"?{name}:error={error}:when={before[name] + 1}+" for name in CALLS]


def why_untraced() -> str | None:
    """Why calls cannot be traced here; None where they can."""
    if shutil.which("strace") is None:
        return "these tests need strace, which is missing; install it: apt-get install strace"
    tried = subprocess.run(
        ["strace", "-o", os.devnull, "true"], capture_output=True, text=True, check=False
    )
    if tried.returncode:
        return f"strace may not trace here, so no fault can be tried: {tried.stderr.strip()}"
    return None
