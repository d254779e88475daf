"""Taking a clinic's own list in: whatever would mislead who walks it is told, all at once."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import chain
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints
from pydantic import ValidationError as Invalid
from pydantic_core import ErrorDetails

from logbook.checklists.model import (
    LIMIT_FIELDS,
    POP_OFF_OPEN,
    READ_IN,
    Checklist,
    Compares,
    Fits,
    Item,
    Reads,
    Shows,
    Tests,
    When,
)
from logbook.checklists.reading import LONGEST_TEXT, checklist_of, toml
from logbook.errors import Faults, InputError
from logbook.units import shown

Confidence = Literal[
    "read",
    "seen quoted",
    "weak",
    "common practice, no source",
    "from memory",
    "our own choice",
    "set by the clinic",
]
"""How sure a list may be of a source: the words of the table of limits, and a clinic's own."""
LONGEST_TITLE = 34
"""A title with its number and mark still fits a terminal of 40 columns."""
LONGEST_HOW = 100
LONGEST_LINE = 200
SMALLEST_GROUP, LARGEST_GROUP = 5, 9
"""People lose their place in longer runs, and a short list needs no groups. A rule of thumb from
Gawande, The Checklist Manifesto, 2009 (from memory)."""

Table = dict[str, Any]


def _one_line(text: str) -> str:
    """A control character could rewrite what a terminal shows."""
    if text != text.strip() or not text.isprintable():
        raise ValueError
    return text


def _different(words: list[str]) -> list[str]:
    if len(set(words)) < len(words):
        raise ValueError
    return words


def _most(characters: int) -> StringConstraints:
    return StringConstraints(min_length=1, max_length=characters)


_ONE_LINE = AfterValidator(_one_line)
Slug = Annotated[str, StringConstraints(max_length=40, pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
Title = Annotated[str, _most(LONGEST_TITLE), _ONE_LINE]
How = Annotated[str, _most(LONGEST_HOW), _ONE_LINE]
Line = Annotated[str, _most(LONGEST_LINE), _ONE_LINE]
Words = Annotated[list[Title], AfterValidator(_different)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class _Item(_Part):
    key: Slug
    title: Title
    how: How
    why: Line
    source: Line
    confidence: Confidence
    stops: bool
    fits: Fits | None = None
    tests: Tests | None = None
    when: When | None = None
    shows: Shows | None = None


class _Tick(_Item):
    kind: Literal["tick"]


class _Number(_Item):
    kind: Literal["number"]
    unit: Title
    at_least: Slug | None = None
    at_most: Slug | None = None
    about: Slug | None = None
    within: Slug | None = None
    stops_below: Slug | None = None
    pressure: Slug | None = None
    or_hold: Slug | None = None
    reads: Reads | None = None
    compares: Compares | None = None


class _Hold(_Item):
    kind: Literal["hold"]
    at_least: Slug
    pressure: Slug | None = None


class _Choice(_Item):
    kind: Literal["choice"]
    choices: Words
    passing: Words
    absorbent_due: Words = []


_KINDS: dict[str, type[_Item]] = {
    "tick": _Tick, "number": _Number, "hold": _Hold, "choice": _Choice,
}  # fmt: skip


class _Group(_Part):
    title: Title
    item: Annotated[
        list[Annotated[_Tick | _Number | _Hold | _Choice, Field(discriminator="kind")]],
        Field(min_length=1),
    ]


class _List(_Part):
    name: Slug
    version: Annotated[int, Field(ge=1, lt=10**6)]
    title: Title
    rhythm: Annotated[str, StringConstraints(pattern=r"^P[1-9][0-9]{0,3}[DWMY]$")] | None = None
    fits: list[Fits] = []
    group: Annotated[list[_Group], Field(min_length=1)]


_NAME = "write small letters and digits such as one-way-valves"
_TEXT = "write one line without blanks around it"
_CHOICES = "write a list of different words"
_WANTED = {
    "name": _NAME, "key": _NAME, **dict.fromkeys(LIMIT_FIELDS, _NAME),
    "title": _TEXT, "how": _TEXT, "why": _TEXT, "source": _TEXT, "unit": _TEXT,
    "version": "write a whole number from 1 on",
    "rhythm": "write P1D, P7D or leave it out",
    "stops": "write true or false",
    "kind": f"write one of: {', '.join(_KINDS)}",
    "confidence": f"write one of: {'; '.join(get_args(Confidence))}",
    "fits": f"write one of: {', '.join(get_args(Fits))}",
    "reads": f"write one of: {', '.join(get_args(Reads))}",
    "tests": f"write one of: {', '.join(get_args(Tests))}",
    "when": f"write one of: {', '.join(get_args(When))}",
    "compares": f"write one of: {', '.join(get_args(Compares))}",
    "shows": f"write one of: {', '.join(get_args(Shows))}",
    "choices": _CHOICES, "passing": _CHOICES, "absorbent_due": _CHOICES,
    "group": "write at least one as a [[group]]",
    "item": "write at least one as a [[group.item]]",
}  # fmt: skip
"""What would do in each field."""


def read(path: Path, limit_units: Mapping[str, str]) -> tuple[str, Checklist]:
    """A clinic's own list from a file: its text, which the ledger keeps, and what it says.

    ``limit_units`` counts as in ``check_text``.

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
    return text, check_text(text, limit_units)


def check_text(text: str, limit_units: Mapping[str, str] | None = None) -> Checklist:
    """A list from its TOML text, held against every rule of a list.

    ``limit_units`` holds the unit of every limit by its name. Where it is given, a limit that does
    not exist, or that counts in another unit than the item, is refused.

    Raises:
        Faults: a sentence for each fault, naming the item and the field.
        InputError: the text is no TOML.
    """
    table = toml(text)
    try:
        _List.model_validate(table)
    except Invalid as invalid:
        raise Faults("the list has", [_fault(table, one) for one in invalid.errors()]) from None
    found = checklist_of(table)
    faults = chain(
        _faults_of_groups(table["group"]),
        _faults_of_keys(found.items),
        *(_faults_of_rule(item) for item in found.items),
        _faults_of_ending(found.items),
        _faults_of_limits(found.items, limit_units) if limit_units is not None else (),
    )
    if told := list(faults):
        raise Faults("the list has", told)
    return found


def _fault(table: Table, error: ErrorDetails) -> str:
    """One finding of pydantic as a sentence that names the item, the field, and what would do."""
    where, fields, kind = "the list", [*error["loc"]], ""
    if fields[:1] == ["group"] and len(fields) > 1:
        group, fields = table["group"][fields[1]], fields[2:]
        where = f"group {int(error['loc'][1]) + 1}"
        if fields[:1] == ["item"] and len(fields) > 1:
            item, number, fields = group["item"][fields[1]], int(error["loc"][3]) + 1, fields[2:]
            where = f"item number {number} of {where}"
            if isinstance(item, dict):
                where = f"item {shown(str(item['key']))}" if "key" in item else where
                kind, fields = str(fields[0]) if fields else "", fields[1:]
    if error["type"].startswith("union_tag"):
        fields = ["kind"]
    field = str(fields[0]) if fields else "item"
    return f"in {where}, the field {shown(field)} {_told(field, kind, error)}"


def _told(field: str, kind: str, error: ErrorDetails) -> str:
    if error["type"] == "extra_forbidden":
        known = _KINDS[kind].model_fields if kind else _List.model_fields
        return f"is unknown; known are {', '.join(known)}"
    if error["type"] == "string_too_long":
        return f"has {len(error['input'])} characters; write at most {error['ctx']['max_length']}"
    if error["type"] in ("missing", "union_tag_not_found"):
        return f"is missing; {_WANTED[field]}"
    if error["type"] == "union_tag_invalid":
        return f"is {error['ctx']['tag']!a:.40}; {_WANTED[field]}"
    return f"is {shown(ascii(error['input']))}; {_WANTED[field]}"


def _wrong(item: Item, field: str, fault: str) -> str:
    return f"in item {item.key}, the field {field} {fault}"


def _faults_of_rule(item: Item) -> Iterator[str]:
    """What judges the item must be one rule that can be passed and can be failed."""
    if item.kind == "choice":
        yield from _faults_of_choices(item)
    rules = [field for field in ("at_least", "at_most", "about") if field in item.limits()]
    if len(rules) > 1:
        yield _wrong(item, rules[1], f"stands beside {rules[0]}; one rule judges an item")
    if (item.about is None) != (item.within is None):
        yield _wrong(item, "within", "belongs with about; write both or neither")
    if item.or_hold is not None and not rules:
        yield _wrong(item, "or_hold", "needs a rule for the number, too, such as at_most")
    if item.stops_below is not None:
        if item.at_least is None or not item.stops:
            yield _wrong(item, "stops_below", "needs at_least, and stops = true")
        if item.or_hold is not None:
            yield _wrong(item, "stops_below", "cannot judge the hold of or_hold; drop one")
    if item.reads is not None and item.unit != READ_IN[item.reads]:
        yield _wrong(
            item, "unit", f"is {item.unit}; a {item.reads} is read in {READ_IN[item.reads]}"
        )


def _faults_of_choices(item: Item) -> Iterator[str]:
    passing, due, choices = set(item.passing), set(item.absorbent_due), set(item.choices)
    if not passing or not passing < choices:
        yield _wrong(item, "passing", "must hold some of the choices, but not all")
    if not due <= choices - passing:
        yield _wrong(item, "absorbent_due", "must hold choices that do not pass")


def _faults_of_groups(groups: list[Table]) -> Iterator[str]:
    total = sum(len(group["item"]) for group in groups)
    if total < SMALLEST_GROUP and len(groups) == 1:
        return
    for group in groups:
        items = group["item"]
        if not SMALLEST_GROUP <= len(items) <= LARGEST_GROUP:
            yield (
                f"group {group['title']}, from item {items[0]['key']} on, has the field item "
                f"{len(items)} times; make groups of {SMALLEST_GROUP} to {LARGEST_GROUP} items"
                + (", or one group" if total < SMALLEST_GROUP else "")
            )


def _faults_of_keys(items: Sequence[Item]) -> Iterator[str]:
    seen: set[str] = set()
    for item in items:
        if item.key in seen:
            yield _wrong(item, "key", "is used twice; give each item its own")
        seen.add(item.key)


def _faults_of_ending(items: Sequence[Item]) -> Iterator[str]:
    """A list that shuts the pop-off valve ends with opening it.

    Source: Pang et al., Vet Rec Case Rep 2021;9(4) (read): a valve left shut after a morning check
    that was complete.
    """
    *others, last = items
    tests = [item for item in items if item.pressure is not None]
    for item in others:
        if item.key == POP_OFF_OPEN:
            yield _wrong(item, "key", "must come last, after every test")
    if tests and last.key != POP_OFF_OPEN:
        fault = f"shuts the pop-off valve; end with item {POP_OFF_OPEN}"
        yield _wrong(tests[0], "pressure", fault)
    if last.key == POP_OFF_OPEN and (last.kind != "tick" or not last.stops or last.fits):
        yield _wrong(last, "stops", "must be true, in a tick that fits every machine")


def _faults_of_limits(items: Sequence[Item], limit_units: Mapping[str, str]) -> Iterator[str]:
    """A leak in L/min judged by a limit in mL/min would pass a thousand times too much."""
    for item in items:
        units = {"pressure": "cmH2O", "or_hold": "s"}
        own = "s" if item.kind == "hold" else item.unit
        for field, limit in item.limits().items():
            unit = units.get(field, own)
            if limit not in limit_units:
                known = ", ".join(sorted(limit_units))
                yield _wrong(item, field, f"is {limit}; known limits are {known}")
            elif limit_units[limit] != unit:
                fault = f"is {limit}, which counts in {limit_units[limit]}, not in {unit}"
                yield _wrong(item, field, fault)
