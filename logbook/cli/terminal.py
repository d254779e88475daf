"""Laying sheets out for the terminal at hand: never wider than it, never told by colour alone."""

import os
import re
import shutil
import sys
import textwrap
from collections.abc import Sequence

import click

from logbook.cli.refusal import how_to
from logbook.sheets.line import Line, Lines, Table, Verbatim
from logbook.sheets.sheet import Sheet
from logbook.units import printable

NARROWEST = 20
_BEFORE_UNIT = re.compile(r"(?<=[0-9]) (?=(?:h|min|s|d|g|kg|mL|L|psi|cmH2O|%)(?![A-Za-z]))")
_UNBROKEN = "\N{NO-BREAK SPACE}"


def width() -> int:
    """Columns of the terminal, 80 where there is none."""
    return max(shutil.get_terminal_size((80, 24)).columns, NARROWEST)


def wrapped(text: str, indent: str = "  ") -> str:
    """A line broken between words, its later lines indented; a number keeps its unit beside it."""
    filled = textwrap.fill(
        _BEFORE_UNIT.sub(_UNBROKEN, _printable(text)),
        width=width(), subsequent_indent=indent, break_long_words=True, break_on_hyphens=False,
    )  # fmt: skip
    return filled.replace(_UNBROKEN, " ")


def _printable(text: str) -> str:
    """What somebody typed must not move the cursor, change colours or turn the reading order."""
    return "".join(sign if sign.isprintable() else " " if sign.isspace() else "?" for sign in text)


def show(sheet: Sheet, *, as_json: bool) -> None:
    """Print a sheet in the form that was asked for."""
    from logbook.sheets.as_json import as_json as json_of

    click.echo(json_of(sheet) if as_json else laid_out(sheet.lines()))


def laid_out(lines: Lines) -> str:
    """Lines as wide as the terminal allows."""
    return "\n".join(_block(one) for one in lines)


def _block(one: Line | Table | Verbatim) -> str:
    if isinstance(one, Verbatim):
        return printable(one.text)
    if isinstance(one, Table):
        return table(one.rows)
    text = wrapped(f"{one.text}{how_to(one.act, one.about)}", one.indent)
    return "\n".join(struck(row) for row in text.split("\n")) if one.struck else text


def table(rows: Sequence[tuple[str, ...]], gap: str = "  ") -> str:
    """Columns side by side where they fit; else each row on its own lines."""
    if not rows:
        return ""
    rows = [tuple(_printable(cell) for cell in row) for row in rows]
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    if sum(widths) + len(gap) * (len(widths) - 1) <= width():
        lines = (
            gap.join(cell.ljust(size) for cell, size in zip(row, widths, strict=True))
            for row in rows
        )
        return "\n".join(line.rstrip() for line in lines)
    return "\n".join(wrapped(", ".join(cell for cell in row if cell)) for row in rows)


def struck(text: str) -> str:
    """Text struck through where the terminal can; the words beside it always say so, too."""
    can = sys.stdout.isatty() and "NO_COLOR" not in os.environ
    can = can and os.environ.get("TERM", "dumb") != "dumb"
    return f"\x1b[9m{text}\x1b[29m" if can else text
