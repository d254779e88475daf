"""The oxygen cylinders on a machine, as its profile and what was read and changed tell them."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from sqlalchemy import Row

from logbook.answers.facts import Gauge, OnMachine
from logbook.answers.recorded import Recorded
from logbook.answers.spans import Span, on_machine
from logbook.projections.lookup import MachineView
from logbook.times import epoch_s, utc_from_epoch_s


def how_many(view: MachineView) -> int:
    """How many oxygen cylinders count on a machine; one where nobody told."""
    return 1 if view.cylinders is None else len(view.cylinders)


def cylinders_on(
    view: MachineView,
    seen: Mapping[tuple[str, str], Row[Any]],
    how_late: Callable[[int, str], Recorded],
) -> list[OnMachine]:
    """Each cylinder by the last ``gauge`` and ``change`` of its number that were ``seen`` on the
    machine; a gauge from before the change is that of another cylinder. ``how_late`` tells from
    when it was read, and from when that was recorded, how late it was."""
    found = []
    for number in range(1, how_many(view) + 1):
        gauge, change = (
            seen.get((view.machine, f"{which} {number}")) for which in ("gauge", "change")
        )
        size = (change.size if change else None) or (
            view.cylinders[number - 1] if view.cylinders else None
        )
        if gauge and change and (gauge.at_s, gauge.entry) < (change.at_s, change.entry):
            gauge = None
        read = None
        if gauge:
            how = how_late(gauge.at_s, gauge.recorded_at)
            read = Gauge(gauge.cylinder_psi, utc_from_epoch_s(gauge.at_s), how)
        found.append(OnMachine(number, size, read))
    return found


def since_read(machine: str, cylinders: Iterable[OnMachine], until_s: int) -> Iterator[Span]:
    """What is used after a gauge was read comes out of that cylinder, until another is read."""
    read = sorted((epoch_s(one.gauge.at), one.number) for one in cylinders if one.gauge)
    ends = [*(at_s for at_s, _ in read), until_s][1:]
    for (at_s, number), to_s in zip(read, ends, strict=True):
        if to_s > at_s:
            yield on_machine((machine, number), machine, at_s, to_s)
