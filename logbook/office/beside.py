"""Doing something again and again beside what serves, in a thread of its own."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Event, Thread

LAST_S = 5
"""How long an act that is under way may take when all ends, in seconds; our own choice."""


@contextmanager
def beside(act: Callable[[], float]) -> Iterator[None]:
    """Do an act at once and then again and again meanwhile; it answers how many seconds to pause.

    At the end an act that takes longer is left to break off: it must be one that can.
    """
    ends = Event()

    def run() -> None:
        while not ends.wait(act()):
            pass

    thread = Thread(target=run, name="beside", daemon=True)
    thread.start()
    try:
        yield
    finally:
        ends.set()
        thread.join(LAST_S)
