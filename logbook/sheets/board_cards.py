"""The machines of a board as cards, for pages: each with its first reason, the worst first."""

from typing import NamedTuple

from logbook.answers.board import BoardLine
from logbook.answers.reason import WORST_FIRST
from logbook.sheets.board_text import MARKS, BoardRow, amounts


class Card(NamedTuple):
    """A machine as the board shows it: one reason, and how many more there are."""

    row: BoardRow
    reason: str
    more: int
    amounts: list[str]


def cards(lines: list[BoardLine]) -> list[Card]:
    """A card for each machine."""
    return sorted((_card(BoardRow.of(line)) for line in lines), key=_worst_first)


def _card(row: BoardRow) -> Card:
    open_reasons = [one for one in row.reasons if one.weight != "fine"]
    first = f"{MARKS[open_reasons[0].weight]}: {open_reasons[0].sentence}" if open_reasons else ""
    return Card(row, first, max(len(open_reasons) - 1, 0), amounts(row))


def _worst_first(card: Card) -> tuple[int, str]:
    worst = min((WORST_FIRST.index(one.weight) for one in card.row.reasons), default=9)
    return worst, card.row.machine
