"""What a sheet is made of: lines and tables, without a width; each door lays them out."""

from collections.abc import Sequence
from typing import NamedTuple


class Line(NamedTuple):
    """A line of a sheet. Where it is broken, its later lines begin with ``indent``.

    ``struck`` says that its entry was taken back; the words beside it always say so, too.
    """

    text: str
    indent: str = "  "
    struck: bool = False


class Table(NamedTuple):
    """Rows of cells, side by side where there is room."""

    rows: Sequence[tuple[str, ...]]


class Verbatim(NamedTuple):
    """Text that is never broken, because it is compared sign by sign or read by a program."""

    text: str


Lines = Sequence[Line | Table | Verbatim]
"""What a sheet shows, from top to bottom."""

DEEPER = "      "
"""The indent of a line that belongs to the one above it."""


def under(text: str) -> Line:
    """A line that belongs to the one above it."""
    return Line(f"  {text}", DEEPER)
