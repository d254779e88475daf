"""What the disk must hold before anybody is told that something is saved."""

import os
from contextlib import suppress
from pathlib import Path


def names_are_kept(folder: Path) -> None:
    """Wait until the disk holds the names of a folder; without it a power cut may undo them."""
    with suppress(OSError):  # Some systems know no such thing for a folder.
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
