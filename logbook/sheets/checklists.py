"""The lists, as text."""

from logbook.checklists import Checklist
from logbook.sheets.layout import wrapped
from logbook.sheets.sentences import every


def checklists_text(lists: list[Checklist]) -> str:
    """One line for each list."""
    return "\n".join(wrapped(_line(one)) for one in lists)


def _line(one: Checklist) -> str:
    when = every(one.rhythm) if one.rhythm else "before each case"
    items = "1 item" if len(one.items) == 1 else f"{len(one.items)} items"
    return f"{one.name} version {one.version}: {one.title}, {items}, {when}"


def checklist_text(one: Checklist) -> str:
    """A whole list: each item with how, why and its source, group by group."""
    rows = [wrapped(f"{one.title} (version {one.version})")]
    group = ""
    for item in one.items:
        if item.group != group:
            group = item.group
            rows += ["", wrapped(group)]
        rows.append(wrapped(f"{item.title} [{item.key}]: {item.how}"))
        why = f"  why: {item.why} Source: {item.source} [{item.confidence}]."
        rows.append(wrapped(why, "      "))
    return "\n".join(rows)
