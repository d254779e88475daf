"""Reading a checklist from TOML text that was held against the rules of a list before.

The lists of the program are held by its tests, a clinic's own by ``loading`` when it comes in. A
question reads its lists each time, and building the models that judge a text takes far longer than
reading it: so this reader only reads.
"""

from functools import cache
from typing import Any

from logbook.checklists.model import Checklist, Item
from logbook.errors import InputError, NotKnown
from logbook.units import shown

LONGEST_TEXT = 200_000
"""Characters of a whole list: as much as an entry of the ledger holds."""

_BUILTIN = ("daily", "before-case", "oxygen-failure-alarm")


def builtin_names() -> tuple[str, ...]:
    """The lists that come with the program."""
    return _BUILTIN


def builtin_text(name: str, version: int | None = None) -> str:
    """The text of a list that comes with the program, in its newest version or an earlier one.

    Raises:
        NotKnown: there is no such list.
        InputError: the program knows no such version of it.
    """
    # The import costs milliseconds that a command without a checklist need not spend.
    from importlib.resources import files

    if name not in _BUILTIN:
        raise NotKnown("list", shown(name), _BUILTIN)
    folder = files("logbook.checklists")
    newest = folder.joinpath(f"{name}.toml").read_text("utf-8")
    if version in (None, toml(newest)["version"]):
        return newest
    earlier = folder.joinpath("earlier", f"{name}-{version}.toml")
    if not earlier.is_file():
        raise InputError(f"version {version} of the list {name} is not kept", "name another one")
    return earlier.read_text("utf-8")


@cache
def builtin(name: str) -> Checklist:
    """A list that comes with the program.

    Raises:
        NotKnown: there is no such list.
    """
    return parse(builtin_text(name))


def parse(text: str) -> Checklist:
    """A list from its TOML text.

    Raises:
        InputError: it is no list; which field is wrong only ``loading`` tells.
    """
    table = toml(text)
    try:
        return checklist_of(table)
    except (KeyError, TypeError, ValueError, AttributeError):
        raise InputError("the text is no list of things to look at", "load it anew") from None


def toml(text: str) -> dict[str, Any]:
    """The tables of a TOML text.

    Raises:
        InputError: it is too long, or no TOML text.
    """
    import tomllib

    if len(text) > LONGEST_TEXT:
        raise InputError(f"the list has more than {LONGEST_TEXT} characters; split it")
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"the list is not TOML text: {error}") from None


def checklist_of(table: dict[str, Any]) -> Checklist:
    """The list that tables of TOML mean; they are taken as they are."""
    return Checklist(
        name=table["name"],
        version=table["version"],
        title=table["title"],
        rhythm=table.get("rhythm"),
        fits=tuple(table.get("fits", ())),
        items=tuple(
            _item(item, group["title"]) for group in table["group"] for item in group["item"]
        ),
    )


def _item(table: dict[str, Any], group: str) -> Item:
    # TOML has lists where an item, which never changes, holds tuples.
    fields: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value for name, value in table.items()
    }
    return Item(group=group, **fields)
