"""The list of what is due, as text."""

from datetime import date
from itertools import groupby

from logbook.answers.item import DueItem
from logbook.sheets.layout import wrapped


def due_text(items: list[DueItem], day: date, *, show_all: bool) -> str:
    """The list: a heading, then machine by machine; what is not due only where asked for."""
    shown = [item for item in items if show_all or item.standing != "ok"]
    head = f"Due as of {day:%A} {day}, and in the days after it:"
    if not shown:
        return wrapped(f"Nothing is due as of {day:%A} {day}, nor soon after it.")
    return f"{wrapped(head)}\n{items_text(shown)}"


def items_text(items: list[DueItem]) -> str:
    """The items machine by machine."""
    blocks = []
    for machine, group in groupby(items, key=lambda item: item.machine):
        lines = [wrapped(f"  {item_text(item)}", "      ") for item in group]
        blocks.append("\n".join([wrapped(machine or "on no machine"), *lines]))
    return "\n".join(blocks)


def item_text(item: DueItem) -> str:
    """One item: its standing first, then what and why."""
    return f"{item.standing.upper()}: {item.what}, {item.told}"
