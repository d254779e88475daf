"""Help as narrow as the terminal: click's own is never narrower than 50 columns."""

import shutil
import textwrap
from collections.abc import Iterable

import click

NARROWEST = 24
"""Below this no help can be read; our own choice."""


class Formatter(click.HelpFormatter):
    """Breaks every line between words, also an example's, whose later lines stand further in."""

    def __init__(
        self, indent_increment: int = 2, width: int | None = None, max_width: int | None = None
    ) -> None:
        columns = min(shutil.get_terminal_size((80, 24)).columns, max_width or 80)
        super().__init__(indent_increment, width or max(columns, NARROWEST))

    def write(self, string: str) -> None:
        """Write text, its lines broken where they are too long."""
        super().write("\n".join(self._broken(line) for line in string.split("\n")))

    def write_dl(
        self, rows: Iterable[tuple[str, str]], col_max: int = 30, col_spacing: int = 2
    ) -> None:
        """Names beside what they mean, which has most of the width."""
        super().write_dl(rows, min(col_max, max(self.width * 2 // 5, 10)), col_spacing)

    def _broken(self, line: str) -> str:
        if len(line) <= self.width:
            return line
        indent = " " * (len(line) - len(line.lstrip()) + 4)
        return textwrap.fill(
            line, self.width, subsequent_indent=indent, break_long_words=False,
            break_on_hyphens=False,
        )  # fmt: skip
