"""What a sheet is made of: lines and tables, without a width; each door lays them out."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from logbook.errors import Act


class Line(NamedTuple):
    """A line of a sheet. Where it is broken, its later lines begin with ``indent``.

    ``struck`` says that its entry was taken back; the words beside it always say so, too. Where
    ``act`` would do, about ``about``, the line is left open, so that each door can say how.
    """

    text: str
    indent: str = "  "
    struck: bool = False
    act: Act | None = None
    about: str = ""


NO_MACHINE = Line("No machine is recorded yet", act=Act.ADD_MACHINE)


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


def as_lines(lines: Lines) -> list[Line]:
    """The same in lines alone: the cells of a row one behind the other."""
    return [line for one in lines for line in _as_lines(one)]


def _as_lines(one: Line | Table | Verbatim) -> Iterator[Line]:
    if isinstance(one, Line):
        yield one
    elif isinstance(one, Table):
        yield from (Line(", ".join(cell for cell in row if cell)) for row in one.rows)
    else:
        yield Line(one.text)
