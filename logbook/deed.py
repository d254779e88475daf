"""The point from which a change is being made: before it work can be stopped, after it it is done.

Whoever reads "nothing saved", or nothing at all, does it again, so that a change that was made is
never told as not made, nor left untold: not because Ctrl-C came late, nor because the window was
closed or the computer shut down, nor because the disk on which the answer is written was full.
"""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

WAITING = [
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
]
"""What asks a program to end: Ctrl-C, a shutdown, and a terminal that is closed."""


class Deed:
    """What a command of this process has done; ``done`` is whether something was changed."""

    def __init__(self) -> None:
        self.done = False


_WATCHED: ContextVar[Deed | None] = ContextVar("watched", default=None)


@contextmanager
def watched(deed: Deed | None) -> Iterator[None]:
    """Keep in ``deed`` what is done inside; only in the main thread of a process that then ends.

    None watches nothing: what is done inside may still be undone by who calls.
    """
    token = _WATCHED.set(deed)
    try:
        yield
    finally:
        _WATCHED.reset(token)


def it_stands() -> None:
    """From here on what was done before, while nothing was watched, is no longer undone."""
    with last_step():
        pass


@contextmanager
def last_step() -> Iterator[None]:
    """The step that makes a change: from here on a wish to end comes too late, and is let go.

    It stays so until the process ends, because what was done must still be told.
    """
    deed = _WATCHED.get()
    if deed is not None:
        for one in WAITING:
            signal.signal(one, signal.SIG_IGN)
    yield
    if deed is not None:
        deed.done = True
