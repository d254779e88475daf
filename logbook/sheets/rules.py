"""The limits in force, as text."""

from logbook.answers.rules import InForce
from logbook.limits import LIMITS
from logbook.sheets.layout import wrapped
from logbook.sheets.sentences import limit_value


def rules_text(rules: list[InForce], *, sources: bool) -> str:
    """One line for each limit; its source and how sure we are beneath where asked for."""
    rows = []
    for one in rules:
        place = f" on {one.machine}" if one.machine else ""
        why = f" ({one.reason}, entry {one.entry})" if one.entry else ""
        value = limit_value(one.value, one.unit)
        rows.append(wrapped(f"{one.limit}{place}: {value}{why}. {one.meaning}"))
        if sources:
            rows.append(wrapped(f"  source: {one.source} [{one.confidence}]", "      "))
    return "\n".join(rows)


def limits_table() -> str:
    """Every limit with its source as a Markdown table, as the README carries it."""
    rows = ["| limit | value | what it says | source | how sure |", "|---|---|---|---|---|"]
    for name, one in LIMITS.items():
        value = limit_value(one.value, one.unit)
        rows.append(f"| `{name}` | {value} | {one.meaning} | {one.source} | {one.confidence} |")
    return "\n".join(rows) + "\n"
