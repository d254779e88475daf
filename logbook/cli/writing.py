"""Files that a command writes, whole or not at all."""

from pathlib import Path


def write_new(target: Path, content: bytes) -> None:
    """Write a file that was not there; where the disk refuses it, none is there afterwards.

    Raises:
        InputError: something lies there already.
    """
    from logbook.errors import InputError
    from logbook.ledger.disk import remove_quietly

    try:
        with target.open("xb") as file:
            file.write(content)
    except FileExistsError:
        raise InputError(f"{target} exists already; name a new file") from None
    except OSError:
        remove_quietly(target)
        raise


def write_anew(target: Path, content: bytes) -> None:
    """Put a file in the place of one that was there, whole; where the disk refuses it, that one
    still stands."""
    import os
    import tempfile

    from logbook.ledger.disk import keep_rights, remove_quietly

    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        keep_rights(target, part)
        part.replace(target)
    except BaseException:
        remove_quietly(part)
        raise
