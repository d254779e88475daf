"""What the disk must hold before anybody is told that something is saved, what it need not, and
what nobody else may read."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

ALONE = 0o700
"""The rights of a folder of a person's own: nobody else can see into it."""


def sync_folder(folder: Path) -> None:
    """Wait until the disk holds the names of a folder; without it a power cut may undo them."""
    with suppress(OSError):  # Some systems know no such thing for a folder.
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def remove_quietly(part: Path) -> None:
    """Leave no half file behind. A disk that refuses it does not undo what was done before."""
    with suppress(OSError):
        part.unlink(missing_ok=True)


def private_folder(folder: Path) -> None:
    """Make a folder, and those above it that are missing, into which nobody else can see.

    Raises:
        OSError: it cannot be made; one that stands there already keeps its rights.
    """
    if not folder.is_dir():
        private_folder(folder.parent)
        folder.mkdir(ALONE, exist_ok=True)


def write_private(path: Path, text: str) -> None:
    """Put a small file in its place, whole and on the disk or not at all; only its owner reads it.

    Raises:
        OSError: it cannot be written; what stood there still does.
    """
    # Its own name, made exclusively: whatever lies there is neither followed nor replaced.
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    except BaseException:
        remove_quietly(Path(name))
        raise
    sync_folder(path.parent)
