"""A terminal of its own in which the program runs, as at a desk."""

import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from tests.conftest import Ran

Command = Callable[..., Ran]
posix = pytest.mark.skipif(os.name != "posix", reason="a terminal can be made here only on POSIX")
PATIENCE_S = 60

ITEM = """
[[group.item]]
key = "{0}"
title = "{1}"
kind = "{2}"
stops = {3}
how = "{4}"
why = "{5}"
source = "our own"
confidence = "set by the clinic"
"""
OWN_LIST = (
    'name = "short"\nversion = 1\ntitle = "Short list"\n\n[[group]]\ntitle = "Circuit"\n'
    + ITEM.format(
        "hoses", "Hoses whole", "tick", "false", "Look along them.", "A hole lets room air in."
    )
    + ITEM.format(
        "leak", "Leak at pressure", "number", "true", "Read the flow.", "A leak wastes agent."
    )
    + 'unit = "mL/min"\nat_most = "leak-flow"\npressure = "leak-pressure"\nor_hold = "leak-hold"\n'
    + ITEM.format("bulb", "Bulb stays flat", "hold", "false", "Squeeze it.", "It fills by a leak.")
    + 'at_least = "leak-hold"\n'
    + ITEM.format("colour", "Colour", "choice", "false", "Look at it.", "It tells exhaustion.")
    + 'choices = ["fresh", "changed"]\npassing = ["fresh"]\nabsorbent_due = ["changed"]\n'
    + ITEM.format("pop-off-open", "Pop-off is OPEN", "tick", "true", "Turn it.", "It saves lungs.")
)
PROGRAM = """
import fcntl, signal, sys, termios
from datetime import UTC, datetime
fcntl.ioctl(0, termios.TIOCSCTTY, 0)  # The terminal whose Ctrl-C this process hears.
from logbook.cli import main
from logbook.cli.desk import Desk
Desk.now = lambda self: datetime(2026, 3, 6, 23, 0, tzinfo=UTC)
signal.signal(signal.SIGINT, signal.default_int_handler)  # Jobs in the background hear no Ctrl-C.
main()
"""


class Terminal:
    """The program in a terminal of its own; a person types when it asks."""

    def __init__(self, ledger: Path, *arguments: str, **more: str) -> None:
        self._ours, theirs = os.openpty()
        env = {"PATH": os.environ["PATH"], "HOME": str(ledger.parent), "TERM": "dumb"}
        self._process = subprocess.Popen(
            [sys.executable, "-W", "error", "-c", PROGRAM, "--ledger", str(ledger), *arguments],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env=env | {"COLUMNS": "80", "PYTHONIOENCODING": "utf-8", "LOGBOOK_BY": "KO"} | more,
            start_new_session=True,
        )
        os.close(theirs)
        self.shown = ""

    def read_to(self, words: str) -> str:
        """What is shown from here on until the words stand there."""
        before, until = self.shown, time.monotonic() + PATIENCE_S
        self.shown = ""
        while words not in self.shown:
            assert self._read(until), f"waited for {words!r} after {before!r}, saw {self.shown!r}"
        return self.shown

    def _read(self, until: float) -> bool:
        """Read what is shown next; False where nothing comes any more."""
        if not select.select([self._ours], [], [], max(until - time.monotonic(), 0))[0]:
            return False
        try:
            read = os.read(self._ours, 10_000)
        except OSError:  # So the end of the program looks on Linux.
            return False
        self.shown += read.decode(errors="replace")
        return bool(read)

    def asks(self, typed: str, words: str = " > ") -> str:
        """Type a line, and read until it asks again or says the words."""
        os.write(self._ours, typed.encode() + b"\n")
        return self.read_to(words)

    def stops_by(self, key: bytes) -> int:
        """Press a key until the program ends, as a person does; answers the exit code."""
        for _ in range(PATIENCE_S):
            os.write(self._ours, key)
            until = time.monotonic() + 1
            while self._read(until):
                pass
            with suppress(subprocess.TimeoutExpired):
                return self._process.wait(1)
        raise AssertionError(f"the program goes on: {self.shown!r}")

    def closes(self) -> int:
        """Take the terminal away, as closing its window does; answers how the program ended."""
        os.close(self._ours)
        return self._process.wait(PATIENCE_S)

    def is_killed(self) -> int:
        """End the program without a word; answers how it ended."""
        self._process.send_signal(signal.SIGKILL)
        return self._process.wait(PATIENCE_S)

    def ends(self) -> int:
        """Wait for the end; answers the exit code."""
        until = time.monotonic() + PATIENCE_S
        while self._read(until):
            pass
        return self._process.wait(PATIENCE_S)

    def close(self) -> None:
        """Take the terminal away."""
        self._process.kill()
        self._process.wait()
        with suppress(OSError):
            os.close(self._ours)


@pytest.fixture
def terminal(bay1: Command, ledger: Path, tmp_path: Path) -> Iterator[Callable[..., Terminal]]:
    """Starts the program in a terminal, with a short list on bay1 and a hold of one second."""
    path = tmp_path / "short.toml"
    path.write_text(OWN_LIST)
    for line in (
        ("checklist", "load", str(path)),
        ("rule", "set", "leak-hold", "1", "--because", "a short test"),
    ):
        assert bay1(*line).code == 0
    opened: list[Terminal] = []

    def start(*arguments: str, **more: str) -> Terminal:
        opened.append(Terminal(ledger, *arguments, **more))
        return opened[-1]

    yield start
    for one in opened:
        one.close()


def squeezed(shown: str) -> str:
    """What a terminal shows, whatever its width."""
    return " ".join(shown.split())


WALK = ("check", "bay1", "--list", "short")
