"""Reading a table out of a file: what stands between its cells, and which column is which."""

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from logbook.errors import Act, InputError
from logbook.recording.importing.texts import text_of
from logbook.units import shown
from logbook.vocabulary import DateOrder

FIRST_LINES = 10
"""Where the header stands at the latest; our own choice."""
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
"""What programs put between cells, and how a person calls it."""
SAME_AS = {
    "start": "began", "started": "began", "begin": "began", "begun": "began",
    "end": "ended", "finished": "ended", "finish": "ended", "stop": "ended",
    "duration": "ran", "length": "ran", "minutes": "ran",
    "initials": "by", "technician": "by", "tech": "by", "signed": "by",
    "when": "at", "vap": "vaporizer", "passed": "result", "verdict": "result",
    "result": "outcome",
}  # fmt: skip
"""Other plain words for our columns, taken where the file has no column of ours."""

_UNIT_BEHIND = re.compile(r"(.+?)\s*[(\[]\s*([^)\]]+?)\s*[)\]]")
_SLASHED = re.compile(r"([0-9]{1,2})[/-]([0-9]{1,2})[/-](?:[0-9]{2}){1,2}\b")
_COMMA = re.compile(r"[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})(?![0-9,])")
_POINT = re.compile(r"[0-9]+\.(?:[0-9]{1,2}|[0-9]{4,})(?![0-9.])")


@dataclass(frozen=True, slots=True)
class Told:
    """What a person says of a file: which of its columns make one of ours, what is the same in
    every row, the unit of bare numbers by column, and how dates are written; ``usual_order`` is how
    another file of this kind wrote them."""

    columns: Mapping[str, Sequence[str]] = field(default_factory=dict)
    every: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    date_order: DateOrder | None = None
    usual_order: DateOrder | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """The cells of a file, with the number of each row as a spreadsheet shows it, and that of the
    header. ``letters`` names the encoding where it is not UTF-8, ``units`` are those that stand
    behind a column's name in brackets."""

    name: str
    letters: str | None
    separator: str
    header_at: int
    header: list[str]
    units: dict[str, str]
    rows: list[tuple[int, list[str]]]

    @property
    def heading(self) -> str:
        """Where the names of the columns stand."""
        return f"row {self.header_at} of {self.name}"


@dataclass(frozen=True, slots=True)
class Row:
    """The cells of a row that say something, by our columns; what is wrong with it as a row."""

    number: int
    told: dict[str, str]
    misfit: InputError | None = None


@dataclass(frozen=True, slots=True)
class Read:
    """The rows of a file, and how they were read: its encoding where it is not UTF-8, the unit of
    bare numbers by column, whether a comma stands before decimals, the order of dates that the file
    itself shows or a person told, and the columns that are not taken over."""

    rows: list[Row]
    letters: str | None
    separator: str
    units: dict[str, str]
    comma: bool
    date_order: DateOrder | None
    left_out: list[str]


def read_table(path: Path) -> Table:
    """The cells of a file that say something.

    Raises:
        InputError: the file is no table of text, or holds no row below its header.
    """
    text, letters, told = text_of(path)
    separator = told if told in SEPARATORS else _separator(text)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=separator)
    rows: list[tuple[int, list[str]]] = []
    number = 0
    try:
        for number, texts in enumerate(reader, start=1):
            if any(cell.strip() for cell in texts):
                rows.append((number, texts))
    except csv.Error as error:
        raise InputError(
            f"row {number + 1} of {path.name} is not CSV text ({error}); look at its quotation "
            "marks"
        ) from None
    rows = _without_titles(rows)
    if len(rows) < 2:
        raise InputError(f"{path.name} holds no row below a header; there is nothing to import")
    header_at, texts = rows[0]
    header, units = _header(texts)
    return Table(path.name, letters, separator, header_at, header, units, rows[1:])


def _separator(text: str) -> str:
    """What stands between the cells of the line that has the most cells of the first few.

    A title may stand above the header, and hold commas.
    """
    first = text.splitlines()[:FIRST_LINES]
    return max(SEPARATORS, key=lambda sign: max((line.count(sign) for line in first), default=0))


def _without_titles(rows: list[tuple[int, list[str]]]) -> list[tuple[int, list[str]]]:
    """The rows from the header on: a line with one filled cell above it is a title."""
    filled = [sum(bool(cell.strip()) for cell in texts) for _, texts in rows[:FIRST_LINES]]
    header = next((at for at, count in enumerate(filled) if count > 1), 0)
    return rows[header:]


def _header(texts: list[str]) -> tuple[list[str], dict[str, str]]:
    """The names of the columns in small letters, and the units that stand behind them."""
    names, units = [], {}
    for text in texts:
        name = " ".join(text.lower().split())
        if behind := _UNIT_BEHIND.fullmatch(" ".join(text.split())):
            name = behind[1].lower()
            units[name] = behind[2]
        names.append(name)
    return names, units


def laid_on(table: Table, columns: Sequence[str], needed: Sequence[str], told: Told) -> Read:
    """The rows by our columns: those that a person told, then those of the same name.

    Raises:
        InputError: a column is not known, stands twice, or is missing.
    """
    place, left_out = _places(table, columns, told)
    missing, unknown = gaps(table, columns, needed, told)
    if unknown and not told.columns:
        raise InputError(
            f"{table.heading} names the column {', '.join(map(shown, unknown))}, which is not "
            f"known; known are {', '.join(columns)}",
            act=Act.MAP_COLUMNS,
        )
    if missing:
        raise InputError(
            f"{table.heading} lacks the column {', '.join(missing)}; it has "
            f"{', '.join(name or '(empty)' for name in table.header)}; ours are "
            f"{', '.join(columns)}",
            act=Act.MAP_COLUMNS,
        )
    rows = [_row(table, place, told, number, texts) for number, texts in table.rows]
    units = {name: table.units[one] for name, at in place.items() for one in
             (table.header[at[0]],) if one in table.units}  # fmt: skip
    return Read(
        rows, table.letters, table.separator, units | dict(told.units), _writes_comma(rows),
        told.date_order or _order_shown(rows), left_out,
    )  # fmt: skip


def gaps(
    table: Table, columns: Sequence[str], needed: Sequence[str], told: Told
) -> tuple[list[str], list[str]]:
    """Our columns that are needed and missing, and columns of the file that are none of ours."""
    place, unknown = _places(table, columns, told)
    return [name for name in needed if name not in place and name not in told.every], unknown


def likely(table: Table, columns: Sequence[str], told: Told) -> dict[str, str]:
    """Our columns that seem to stand in the file, with what it calls them."""
    places = _places(table, columns, told)[0]
    return {ours: "+".join(table.header[at] for at in all_at) for ours, all_at in places.items()}


def _places(
    table: Table, columns: Sequence[str], told: Told
) -> tuple[dict[str, list[int]], list[str]]:
    """Where in a row each of our columns stands, and the columns that are not taken over."""
    for name in (*told.columns, *told.every):
        if name not in columns:
            raise InputError(f"{shown(name)} is no column of ours; ours are {', '.join(columns)}")
    place = {name: [_place(table, one) for one in theirs] for name, theirs in told.columns.items()}
    used = {at for places in place.values() for at in places}
    left_out: list[str] = []
    for at, name in enumerate(table.header):
        if at in used or not (name or _says_something(table, at)):
            continue
        known = name if name in columns else _other_word(table, columns, name)
        if known is None or known in told.columns:
            left_out.append(name or "(empty)")
        elif known in place:
            raise InputError(f"{table.heading} names the column {known} twice; keep one")
        else:
            place[known] = [at]
    return place, left_out


def _place(table: Table, name: str) -> int:
    """Where a column of the file stands, by its name as written."""
    called = " ".join(name.lower().split())
    if called not in table.header:
        known = ", ".join(one or "(empty)" for one in table.header)
        raise InputError(f"{table.name} has no column {shown(name)}; it has {known}")
    return table.header.index(called)


def _other_word(table: Table, columns: Sequence[str], name: str) -> str | None:
    ours = SAME_AS.get(name)
    return ours if ours in columns and ours not in table.header else None


def _says_something(table: Table, at: int) -> bool:
    return any(texts[at].strip() for _, texts in table.rows if at < len(texts))


def _row(
    table: Table, place: dict[str, list[int]], told: Told, number: int, texts: list[str]
) -> Row:
    if len(texts) != len(table.header):
        return Row(number, {}, InputError(
            f"it has {len(texts)} cells where the header has {len(table.header)}",
            "give each column its cell, if only an empty one",
        ))  # fmt: skip
    cells = {name: " ".join(texts[at].strip() for at in at_all) for name, at_all in place.items()}
    said = {name: text.strip() for name, text in cells.items() if text.strip()}
    return Row(number, dict(told.every) | said)


def _writes_comma(rows: Sequence[Row]) -> bool:
    """Whether the file writes 4,5 for four and a half: where it does, it writes no 4.5."""
    numbers = [row.told.get(name, "") for row in rows for name in MEASURED]
    commas = sum(bool(_COMMA.match(text)) for text in numbers)
    return commas > 0 and not any(_POINT.match(text) and "," not in text for text in numbers)


MEASURED = ("weight", "flow", "dial", "mass", "gauge", "cylinder", "pipeline", "added", "level")
"""The columns that hold a measured number."""
DATED = ("began", "ended", "at", "expiry")
"""The columns that hold a date."""


def _order_shown(rows: Sequence[Row]) -> DateOrder | None:
    """The order of dates, where a day above the twelfth shows it."""
    found: set[Any] = set()
    for slashed in _slashed(rows):
        one, other = int(slashed[1]), int(slashed[2])
        found |= {"day/month"} if one > 12 else {"month/day"} if other > 12 else set()
    return found.pop() if len(found) == 1 else None


def unclear_date(read: Read) -> str | None:
    """A date of the file that is another day in half of the world; None where the order of its
    dates is known, or does not matter."""
    if read.date_order is not None:
        return None
    return next((one[0] for one in _slashed(read.rows) if one[1] != one[2]), None)


def _slashed(rows: Sequence[Row]) -> Iterator[re.Match[str]]:
    for row in rows:
        for name in DATED:
            if slashed := _SLASHED.match(row.told.get(name, "")):
                yield slashed
