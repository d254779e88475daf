"""What a person tells of the columns of a file: in options, in a file, or when asked."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.desk import has_terminal
from logbook.cli.importing import UNITS
from logbook.errors import InputError
from logbook.vocabulary import DATE_ORDERS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from logbook.cli.desk import Desk
    from logbook.recording.importing.files import Read, Table, Told
    from logbook.recording.importing.sheets import Sheet
    from logbook.vocabulary import DateOrder

TABLES = ("columns", "every", "units")
"""The tables of a file of what was told."""


def told_of(
    table: "Table", sheet: "Sheet", *, mapping: str | None, columns: "Sequence[tuple[str, str]]",
    every: "Sequence[tuple[str, str]]", date_order: Any, **units: str | None,
) -> "tuple[Told, bool]":  # fmt: skip
    """What is known of the columns of a file, and whether it was asked for.

    Raises:
        InputError: the file of what was told cannot be read.
    """
    from pathlib import Path

    from logbook.recording.importing.files import Told

    kept = _kept(Path(mapping)) if mapping and Path(mapping).exists() else Told()
    typed = {
        column: unit
        for name, unit in units.items()
        if unit
        for column in UNITS[name.removesuffix("_unit")]
        if column in sheet.columns
    }
    told = Told(
        {**kept.columns, **{ours.strip(): _parts(theirs) for ours, theirs in columns}},
        {**kept.every, **{name.strip(): text.strip() for name, text in every}},
        {**kept.units, **typed},
        date_order,
        kept.usual_order,
    )
    return (_asked(table, sheet, told), True) if _asks(table, sheet, told) else (told, False)


def _parts(theirs: str) -> list[str]:
    return [part.strip() for part in theirs.split("+")]


def _asks(table: "Table", sheet: "Sheet", told: "Told") -> bool:
    from logbook.recording.importing.files import gaps

    missing, unknown = gaps(table, list(sheet.columns), sheet.needed, told)
    return bool(missing or (unknown and not told.columns)) and has_terminal()


def _asked(table: "Table", sheet: "Sheet", told: "Told") -> "Told":
    """Ask for each of our columns that the file does not name, which of its columns it is."""
    from dataclasses import replace

    from logbook.recording.importing.files import likely

    click.echo(f"{table.name} has the columns: {', '.join(name for name in table.header if name)}")
    click.echo("Name the column, or several as date+start; Enter where there is none.")
    columns, every = dict(told.columns), dict(told.every)
    known = likely(table, list(sheet.columns), told)
    for ours in sheet.columns:
        if ours in told.columns or ours in every or known.get(ours) == ours:
            continue
        seems = known.get(ours, "")
        question = f"  {ours} (Enter: {seems})" if seems else f"  {ours}"
        typed = str(click.prompt(question, prompt_suffix=" > ", default=seems, show_default=False))
        if typed.strip():
            columns[ours] = _parts(typed)
        elif ours in sheet.needed:
            every[ours] = str(click.prompt(f"  {ours}, the same in every row", prompt_suffix=" > "))
    return replace(told, columns=columns, every=every)


def date_order_of(
    desk: "Desk", read: "Read", told: "Told", name: str
) -> "tuple[DateOrder | None, list[str]]":
    """How a file writes its dates: as a person told for it or it shows itself, else as is asked for
    in a terminal, else as another file of its kind or the clinic writes them, which is said."""
    from logbook.recording.importing.files import unclear_date

    text = unclear_date(read)
    if text is None:
        return read.date_order, []
    with desk.reading() as book:
        usual = told.usual_order or book.clinic.date_order
    if has_terminal():
        question = f"{name} has dates such as {text}. How are they written?"
        return click.prompt(question, type=click.Choice(DATE_ORDERS), default=usual), []
    if usual is None:
        return None, []
    as_read = f"{text} was read as {usual}; nothing in {name} shows that"
    return usual, [f"{as_read}, and --date-order tells otherwise."]


def _kept(path: "Path") -> "Told":
    import tomllib

    from logbook.recording.importing.files import Told

    try:
        kept = tomllib.loads(path.read_text("utf-8"))
        columns = {ours: _parts(theirs) for ours, theirs in kept.get("columns", {}).items()}
        every, units = (
            {name: str(text) for name, text in kept.get(one, {}).items()} for one in TABLES[1:]
        )
    except (ValueError, AttributeError) as error:
        raise InputError(f"{path.name} is no file of columns ({error})", "make it anew") from None
    order = kept.get("date_order")
    if order not in (None, *DATE_ORDERS):
        raise InputError(f"{path.name} tells dates as {order}", "write day/month or month/day")
    return Told(columns, every, units, usual_order=order)


def keep_mapping(path: str | None, file: "Path", told: "Told", *, asked: bool) -> list[str]:
    """Write what was told to a file, if it was asked for or a new file for it is named."""
    import os
    from pathlib import Path

    from logbook.cli.writing import write_new
    from logbook.units import printable

    target = Path(path) if path else file.with_suffix(".columns.toml")
    if os.path.lexists(target) or not (asked or path):  # A link that leads nowhere is there, too.
        return []
    lines = [f'date_order = "{told.date_order}"\n'] if told.date_order else []
    rows = {
        "columns": {ours: "+".join(theirs) for ours, theirs in told.columns.items()},
        "every": told.every,
        "units": told.units,
    }
    for name in TABLES:
        if rows[name]:
            lines.append(f"[{name}]\n")
            lines += [f"{ours} = {_quoted(text)}\n" for ours, text in rows[name].items()]
    write_new(target, "".join(lines).encode())
    again = printable(str(target))
    return [f"What was told of the columns is kept in {again}; --mapping {again} reads it."]


def _quoted(text: str) -> str:
    """A text of TOML, which quotes as JSON does."""
    import json

    return json.dumps(text, ensure_ascii=False)
