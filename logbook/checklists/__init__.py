"""Checklists: lists of things to look at, each with how, why and source; and what an answer means.

A list is TOML text, and the text itself is what a ledger keeps. Whatever can be measured is judged
here by a limit that the item names; nobody types the result of a measurement.
"""

from logbook.checklists.judging import judge
from logbook.checklists.model import (
    POP_OFF_OPEN,
    Answer,
    Checklist,
    Item,
    Judged,
    Kind,
    State,
)
from logbook.checklists.reading import builtin, builtin_names, parse

__all__ = [
    "POP_OFF_OPEN",
    "Answer",
    "Checklist",
    "Item",
    "Judged",
    "Kind",
    "State",
    "builtin",
    "builtin_names",
    "judge",
    "parse",
]
