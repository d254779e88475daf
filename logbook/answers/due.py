"""What is due, when, and why."""

from collections.abc import Iterable

from sqlalchemy import Connection

from logbook.answers.absorbent import absorbent_items
from logbook.answers.charcoal import charcoal_items
from logbook.answers.item import Asked, DueItem, ask
from logbook.answers.lists import list_items
from logbook.answers.moment import Moment
from logbook.answers.service import service_items
from logbook.answers.service_state import Noted, Stopped, noted, stopped
from logbook.answers.standing import ATTENTION, WORST_FIRST
from logbook.value import Value


class Due(Value):
    """Every item of every unit, machine by machine, the machine with the worst item first; what
    keeps units from use, and the open faults that do not."""

    moment: Moment
    items: list[DueItem]
    stopped: list[Stopped]
    noted: list[Noted]

    @property
    def attention(self) -> bool:
        """Whether an item is due, overdue or without a record, or something stands open."""
        return bool(self.stopped or self.noted) or needs_attention(self.items)


def due_and_open(connection: Connection, moment: Moment) -> Due:
    """What is due, and what stands against the units."""
    asked = ask(connection, moment)
    return Due(moment, worst_first(due_items(asked)), stopped(asked), noted(asked))


def due(connection: Connection, moment: Moment) -> list[DueItem]:
    """What is due alone."""
    return worst_first(due_items(ask(connection, moment)))


def due_items(asked: Asked) -> list[DueItem]:
    """The same, unsorted, from tables that were read already."""
    items: list[DueItem] = []
    for view in asked.machines.values():
        items += absorbent_items(asked, view)
        items += charcoal_items(asked, view)
        items += list_items(asked, view)
    return items + service_items(asked)


def worst_first(items: Iterable[DueItem]) -> list[DueItem]:
    """Sorted by machine and standing; units on no machine come last among equals."""
    items = list(items)
    rank = {standing: place for place, standing in enumerate(WORST_FIRST)}
    worst: dict[str, int] = {}
    for item in items:
        key = item.machine or "~"
        worst[key] = min(worst.get(key, len(rank)), rank[item.standing])

    def order(item: DueItem) -> tuple[int, str, int, str, str, str]:
        machine = item.machine or "~"
        return (
            worst[machine], machine, rank[item.standing], item.unit, item.item, item.clock
        )  # fmt: skip

    return sorted(items, key=order)


def needs_attention(items: Iterable[DueItem]) -> bool:
    """Whether any item is due, overdue or without a record."""
    return any(item.standing in ATTENTION for item in items)
