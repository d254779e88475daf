"""Reading back what the program keeps for itself, whatever lies there by now."""

import os
import stat
from pathlib import Path

SMALL_BYTES = 10_000
"""No file that the program keeps for itself is longer, unless it is told."""


def read_small(path: Path, most_bytes: int = SMALL_BYTES) -> str | None:
    """A small file of text that was kept; None for whatever else lies there, without waiting.

    Anybody may have put something else there, such as a pipe into which nobody writes.
    """
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
        with os.fdopen(handle, "rb") as file:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                return None
            return file.read(most_bytes).decode()
    except (OSError, ValueError):
        return None
