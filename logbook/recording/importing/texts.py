"""The text of a file, in whichever of the usual encodings a program wrote it."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from logbook.errors import InputError

MOST_BYTES = 20_000_000
"""A log of every case of twenty years is smaller; our own choice."""

_BOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF")
"""How the own files of spreadsheets begin, and a PDF."""
_SEPARATOR_TOLD = re.compile(r"sep=(.)\r?\n")
"""What some programs write first, for themselves: what stands between the cells."""


class Text(NamedTuple):
    """The text of a file; ``letters`` names the encoding where it is not UTF-8, and ``separator``
    is what the file itself says to stand between its cells."""

    text: str
    letters: str | None
    separator: str | None


def text_of(path: Path) -> Text:
    """Read a file of text.

    UTF-8 is what its bytes can be in no other way; UTF-16 shows itself by its first bytes or by its
    zeros (Unicode Standard, section 23.8). Anything else is read as Windows-1252, which
    spreadsheets of Windows write, and the caller tells so.

    Raises:
        InputError: it is no text, or too large.
    """
    with path.open("rb") as file:
        content = file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise InputError(f"{path.name} is larger than {MOST_BYTES // 1_000_000} MB", "split it")
    if content.startswith(_BOOKS):
        raise InputError(
            f"{path.name} is a spreadsheet's or a printer's own file",
            "open it there and save it as CSV in UTF-8",
        )
    text, letters = _decoded(path.name, content)
    told = _SEPARATOR_TOLD.match(text)
    return Text(text[told.end() :] if told else text, letters, told[1] if told else None)


def _decoded(name: str, content: bytes) -> tuple[str, str | None]:
    for encoding, letters in _encodings(content):
        try:
            return content.decode(encoding), letters
        except UnicodeDecodeError:
            pass
    raise InputError(f"{name} is no text", "save it as CSV in UTF-8")


def _encodings(content: bytes) -> Sequence[tuple[str, str | None]]:
    """In which encodings a file can be, the surest first."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return [("utf-16", "UTF-16")]
    if b"\0" in content:
        little = content[1::2].count(0) > content[::2].count(0)
        return [("utf-16-le" if little else "utf-16-be", "UTF-16")]
    # Some spreadsheets put a byte order mark first, which is no part of the text.
    return [("utf-8-sig", None), ("cp1252", "Windows-1252")]
