"""What the disk must hold before anybody is told that something is saved, and what it need not."""

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


def taken_away(part: Path) -> None:
    """Leave no half file behind. A disk that refuses it does not undo what was done before."""
    with suppress(OSError):
        part.unlink(missing_ok=True)
