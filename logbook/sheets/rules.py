"""The limits in force, as text."""

from dataclasses import dataclass
from typing import ClassVar

from logbook.answers.rules import InForce
from logbook.limits import LIMITS
from logbook.sheets.line import Line, Lines, under
from logbook.sheets.sentences import limit_value
from logbook.sheets.sheet import Sheet, TextAlone


@dataclass(frozen=True, slots=True)
class RuleListSheet(Sheet):
    """Each limit in force; its source and how sure we are beneath where ``sources`` are asked."""

    schema: ClassVar[str] = "rule-list/1"
    rules: list[InForce]
    sources: TextAlone[bool]

    def lines(self) -> Lines:
        """The limits as text."""
        return _limits(self.rules, sources=self.sources)


def _limits(rules: list[InForce], *, sources: bool) -> list[Line]:
    rows = []
    for one in rules:
        place = f" on {one.machine}" if one.machine else ""
        why = f" ({one.reason}, entry {one.entry})" if one.entry else ""
        value = limit_value(one.value, one.unit)
        rows.append(Line(f"{one.limit}{place}: {value}{why}. {one.meaning}"))
        if sources:
            rows.append(under(f"source: {one.source} [{one.confidence}]"))
    return rows


def limits_table() -> str:
    """Every limit with its source as a Markdown table, as the README carries it."""
    rows = ["| limit | value | what it says | source | how sure |", "|---|---|---|---|---|"]
    for name, one in LIMITS.items():
        value = limit_value(one.value, one.unit)
        rows.append(f"| `{name}` | {value} | {one.meaning} | {one.source} | {one.confidence} |")
    return "\n".join(rows) + "\n"
