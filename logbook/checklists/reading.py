"""Reading a checklist from TOML text, and refusing one that would mislead who walks it."""

import re
from collections.abc import Collection, Mapping
from functools import cache
from pathlib import Path
from typing import Any, cast, get_args

from logbook.checklists.model import FITS, LIMIT_FIELDS, POP_OFF_OPEN, Checklist, Item, Kind
from logbook.errors import InputError, NotKnown

CONFIDENCES = (
    "read",
    "seen quoted",
    "weak",
    "common practice, no source",
    "from memory",
    "our own choice",
    "set by the clinic",
)
"""How sure a list may be of a source: the words of the table of limits, and a clinic's own."""
LONGEST_TITLE = 34
"""A title with its number and mark still fits a terminal of 40 columns."""
LONGEST_HOW = 100
LONGEST_LINE = 200
LONGEST_TEXT = 200_000
"""Characters of a whole list: as much as an entry of the ledger holds."""
SMALLEST_GROUP, LARGEST_GROUP = 5, 9
"""People lose their place in longer runs, and a short list needs no groups. A rule of thumb from
Gawande, The Checklist Manifesto, 2009 (from memory)."""

_BUILTIN = ("daily", "before-case", "oxygen-failure-alarm")
_SLUG = re.compile(r"(?=.{1,40}$)[a-z0-9]+(-[a-z0-9]+)*")
_RHYTHM = re.compile(r"P[1-9][0-9]{0,3}[DWMY]")
_COMMON = ("key", "title", "kind", "stops", "how", "why", "source", "confidence", "fits")
_FIELDS: dict[str, tuple[str, ...]] = {
    "tick": _COMMON,
    "number": (*_COMMON, "unit", *LIMIT_FIELDS),
    "hold": (*_COMMON, "at_least", "pressure"),
    "choice": (*_COMMON, "choices", "passing", "absorbent_due"),
}

Table = dict[str, Any]


def builtin_names() -> tuple[str, ...]:
    """The lists that come with the program."""
    return _BUILTIN


@cache
def builtin(name: str) -> Checklist:
    """A list that comes with the program.

    Raises:
        InputError: there is no such list.
    """
    # The import costs milliseconds that a command without a checklist need not spend.
    from importlib.resources import files

    if name not in _BUILTIN:
        raise NotKnown("list", _shown(name), _BUILTIN)
    return parse(files("logbook.checklists").joinpath(f"{name}.toml").read_text("utf-8"))


def read(path: Path, limit_units: Mapping[str, str] | None = None) -> tuple[str, Checklist]:
    """A clinic's own list from a file: its text, which the ledger keeps, and what it says.

    ``limit_units`` counts as in ``parse``.

    Raises:
        InputError: the file cannot be read, or is not a whole list.
    """
    most_bytes = 4 * LONGEST_TEXT
    try:
        with path.open("rb") as file:
            content = file.read(most_bytes + 1)
        if len(content) > most_bytes:
            raise InputError(f"the file {path} is too large for a list; split it")
        # Some editors put a byte order mark first, which is no part of the text.
        text = content.decode("utf-8-sig")
    except OSError as error:
        raise InputError(f"the file {path} cannot be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise InputError(f"the file {path} is not UTF-8 text; save it as UTF-8") from None
    return text, parse(text, limit_units)


def parse(text: str, limit_units: Mapping[str, str] | None = None) -> Checklist:
    """A list from its TOML text.

    ``limit_units`` holds the unit of every limit by its name. Give it when a list first comes in:
    a limit that does not exist, or that counts in another unit than the item, is then refused.

    Raises:
        InputError: one sentence that names the item and the field.
    """
    table = _toml(text)
    _known_fields(table, ("name", "version", "title", "rhythm", "group"), "the list")
    groups = _tables(table, "group", "the list")
    items: list[Item] = []
    for number, group in enumerate(groups, 1):
        where = f"group {number}"
        _known_fields(group, ("title", "item"), where)
        title = _line(group, "title", where, LONGEST_TITLE)
        for one in _tables(group, "item", where):
            items.append(_item(one, title, len(items) + 1))
    _check_groups(groups)
    _check_keys(items)
    _check_ending(items)
    if limit_units is not None:
        _check_limits(items, limit_units)
    return Checklist(
        name=_slug(table, "name", "the list"),
        version=_version(table),
        title=_line(table, "title", "the list", LONGEST_TITLE),
        rhythm=_rhythm(table),
        items=tuple(items),
    )


def _shown(value: object) -> str:
    """A value from a file, fit for an error sentence: ASCII, one line, not long."""
    text = ascii(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _wrong(where: str, field: str, fault: str) -> InputError:
    return InputError(f"in {where}, the field {field} {fault}")


def _toml(text: str) -> Table:
    import tomllib

    if len(text) > LONGEST_TEXT:
        raise InputError(f"the list has more than {LONGEST_TEXT} characters; split it")
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"the list is not TOML text: {error}") from None


def _known_fields(table: Table, known: Collection[str], where: str) -> None:
    for field in table:
        if field not in known:
            raise _wrong(where, _shown(field), f"is unknown; known are {', '.join(known)}")


def _tables(table: Table, field: str, where: str) -> list[Table]:
    value = table.get(field)
    if not isinstance(value, list) or not value or not all(isinstance(v, dict) for v in value):
        raise _wrong(where, field, f"holds no {field}; write at least one as a [[table]]")
    return value


def _line(table: Table, field: str, where: str, longest: int = LONGEST_LINE) -> str:
    """A text of one printable line: a control character could rewrite what a terminal shows."""
    value = table.get(field)
    if not isinstance(value, str) or not value.strip():
        raise _wrong(where, field, "is missing or empty; write one line")
    if value != value.strip() or not value.isprintable():
        raise _wrong(where, field, f"is {_shown(value)}; write one line without blanks around it")
    if len(value) > longest:
        raise _wrong(where, field, f"has {len(value)} characters; write at most {longest}")
    return value


def _word_of(table: Table, field: str, where: str, words: Collection[str]) -> str:
    value = table.get(field)
    if not isinstance(value, str) or value not in words:
        raise _wrong(where, field, f"is {_shown(value)}; write one of: {'; '.join(words)}")
    return value


def _slug(table: Table, field: str, where: str) -> str:
    value = table.get(field)
    if not isinstance(value, str) or not _SLUG.fullmatch(value):
        raise _wrong(
            where,
            field,
            f"is {_shown(value)}; write small letters and digits such as one-way-valves",
        )
    return value


def _version(table: Table) -> int:
    value = table.get("version")
    if type(value) is not int or not 1 <= value < 10**6:
        raise _wrong("the list", "version", f"is {_shown(value)}; write a whole number from 1 on")
    return value


def _rhythm(table: Table) -> str | None:
    """None, where the field is left out: the list is walked before each case."""
    value = table.get("rhythm")
    if value is None:
        return None
    if not isinstance(value, str) or not _RHYTHM.fullmatch(value):
        raise _wrong("the list", "rhythm", f"is {_shown(value)}; write P1D, P7D or leave it out")
    return value


def _words(table: Table, field: str, where: str) -> tuple[str, ...]:
    value = table.get(field, [])
    if not isinstance(value, list) or len({ascii(word) for word in value}) < len(value):
        raise _wrong(where, field, "is no list of different words")
    return tuple(_line({field: word}, field, where, LONGEST_TITLE) for word in value)


def _item(table: Table, group: str, number: int) -> Item:
    where = f"item {_shown(table['key'])}" if "key" in table else f"item number {number}"
    key = _slug(table, "key", where)
    where = f"item {key}"
    kind = cast(Kind, _word_of(table, "kind", where, get_args(Kind)))
    _known_fields(table, _FIELDS[kind], where)
    if not isinstance(table.get("stops"), bool):
        raise _wrong(where, "stops", "is missing; write true or false")
    item = Item(
        key=key,
        group=group,
        title=_line(table, "title", where, LONGEST_TITLE),
        kind=kind,
        how=_line(table, "how", where, LONGEST_HOW),
        why=_line(table, "why", where),
        source=_line(table, "source", where),
        confidence=_word_of(table, "confidence", where, CONFIDENCES),
        stops=table["stops"],
        fits=_word_of(table, "fits", where, FITS) if "fits" in table else None,
        unit=_line(table, "unit", where, LONGEST_TITLE) if kind == "number" else None,
        choices=_words(table, "choices", where),
        passing=_words(table, "passing", where),
        absorbent_due=_words(table, "absorbent_due", where),
        **{field: _slug(table, field, where) for field in LIMIT_FIELDS if field in table},
    )
    _check_rule(item, where)
    return item


def _check_rule(item: Item, where: str) -> None:
    """What judges the item must be one rule that can be passed and can be failed."""
    if item.kind == "hold" and item.at_least is None:
        raise _wrong(where, "at_least", "is missing; name the limit that the hold must reach")
    if item.kind == "choice":
        _check_choices(item, where)
    rules = [field for field in ("at_least", "at_most", "about") if field in item.limits()]
    if len(rules) > 1:
        raise _wrong(where, rules[1], f"stands beside {rules[0]}; one rule judges an item")
    if (item.about is None) != (item.within is None):
        raise _wrong(where, "within", "belongs with about; write both or neither")
    if item.or_hold is not None and not rules:
        raise _wrong(where, "or_hold", "needs a rule for the number, too, such as at_most")
    if item.stops_below is not None:
        if item.at_least is None or not item.stops:
            raise _wrong(where, "stops_below", "needs at_least, and stops = true")
        if item.or_hold is not None:
            raise _wrong(where, "stops_below", "cannot judge the hold of or_hold; drop one")


def _check_choices(item: Item, where: str) -> None:
    passing, due, choices = set(item.passing), set(item.absorbent_due), set(item.choices)
    if not passing or not passing < choices:
        raise _wrong(where, "passing", "must hold some of the choices, but not all")
    if not due <= choices - passing:
        raise _wrong(where, "absorbent_due", "must hold choices that do not pass")


def _check_groups(groups: list[Table]) -> None:
    total = sum(len(group["item"]) for group in groups)
    if total < SMALLEST_GROUP and len(groups) == 1:
        return
    for group in groups:
        items = group["item"]
        if not SMALLEST_GROUP <= len(items) <= LARGEST_GROUP:
            raise InputError(
                f"group {group['title']}, from item {items[0]['key']} on, has the field item "
                f"{len(items)} times; make groups of {SMALLEST_GROUP} to {LARGEST_GROUP} items"
                + (", or one group" if total < SMALLEST_GROUP else "")
            )


def _check_keys(items: list[Item]) -> None:
    seen: set[str] = set()
    for item in items:
        if item.key in seen:
            raise _wrong(f"item {item.key}", "key", "is used twice; give each item its own")
        seen.add(item.key)


def _check_ending(items: list[Item]) -> None:
    """A list that shuts the pop-off valve ends with opening it.

    Source: Pang et al., Vet Rec Case Rep 2021;9(4) (read): a valve left shut after a morning check
    that was complete.
    """
    keys = [item.key for item in items]
    tests = [item.key for item in items if item.pressure is not None]
    last = items[-1]
    if POP_OFF_OPEN in keys[:-1]:
        raise _wrong(f"item {POP_OFF_OPEN}", "key", "must come last, after every test")
    if tests and last.key != POP_OFF_OPEN:
        raise _wrong(
            f"item {tests[0]}", "pressure", f"shuts the pop-off valve; end with item {POP_OFF_OPEN}"
        )
    if last.key == POP_OFF_OPEN and (last.kind != "tick" or not last.stops or last.fits):
        raise _wrong(
            f"item {POP_OFF_OPEN}", "stops", "must be true, in a tick that fits every machine"
        )


def _check_limits(items: list[Item], limit_units: Mapping[str, str]) -> None:
    """A leak in L/min judged by a limit in mL/min would pass a thousand times too much."""
    for item in items:
        units = {"pressure": "cmH2O", "or_hold": "s"}
        own = "s" if item.kind == "hold" else item.unit
        for field, limit in item.limits().items():
            where, unit = f"item {item.key}", units.get(field, own)
            if limit not in limit_units:
                known = ", ".join(sorted(limit_units))
                raise _wrong(where, field, f"is {limit}; known limits are {known}")
            if limit_units[limit] != unit:
                raise _wrong(
                    where, field, f"is {limit}, which counts in {limit_units[limit]}, not in {unit}"
                )
