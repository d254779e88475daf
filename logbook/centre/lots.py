"""How much each lot of absorbent had by the time its charges were changed, at all sites."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from itertools import pairwise

from sqlalchemy import Connection, select

from logbook.answers.absorbent import counted_circuits
from logbook.answers.rules import rulebook
from logbook.answers.spans import Load, Ran, Sums, on_machine
from logbook.centre.each import for_each, once
from logbook.centre.renewing import renew_stale
from logbook.centre.store import Site, Store, sites
from logbook.projections.tables import absorbent_change
from logbook.sheets.group import LotRow, LotsSheet
from logbook.units import format_decimal

SECONDS_AN_HOUR = 3600


@dataclass(slots=True)
class _Lot:
    """The finished charges of a lot, and the sites at which they were used."""

    loads: list[Load] = field(default_factory=list)
    sites: set[str] = field(default_factory=set)


def lots(store: Store, now: datetime) -> LotsSheet:
    """Every lot of which a charge was changed, that with the fewest hours a charge first; and the
    sites that could not be read. What was taken and not read yet is read first."""
    every = sites(store)
    behind = renew_stale(store, every, now)
    found: dict[str, _Lot] = defaultdict(_Lot)

    def read(one: Site) -> None:
        with store.of_site(one.number, writes=False) as connection:
            finished = list(_finished(connection))
        for lot, load in finished:
            found[lot].loads.append(load)
            found[lot].sites.add(one.name)

    unread = for_each(every, read)
    by_hours = sorted(found.items(), key=lambda item: _mean_h(item[1]))
    return LotsSheet([_row(lot, one) for lot, one in by_hours], once(behind, unread))


def _finished(connection: Connection) -> Iterator[tuple[str, Load]]:
    """Each charge with a lot that was changed, and what loaded it."""
    query = select(absorbent_change).order_by(
        absorbent_change.c.machine, absorbent_change.c.at_s, absorbent_change.c.entry
    )
    charges = {
        (charge.machine, charge.entry): (charge, after)
        for charge, after in pairwise(connection.execute(query).all())
        if charge.lot and charge.machine == after.machine
    }
    if not charges:
        return
    spans = [on_machine(key, key[0], charge.at_s, after.at_s)
             for key, (charge, after) in charges.items()]  # fmt: skip
    used = Sums(connection).ran(spans)
    for key, (charge, after) in charges.items():
        values = rulebook(connection, after.at_s).for_machine(charge.machine)
        load = used.get(key, Ran()).on(counted_circuits(values))
        yield charge.lot.strip().upper(), load


def _mean_h(one: _Lot) -> Decimal:
    return Decimal(sum(load.ran_s for load in one.loads)) / SECONDS_AN_HOUR / len(one.loads)


def _row(lot: str, one: _Lot) -> LotRow:
    litres = sum((load.co2_l for load in one.loads), Decimal(0)) / len(one.loads)
    return LotRow(
        lot, len(one.sites), len(one.loads),
        format_decimal(round(_mean_h(one), 1)), format_decimal(round(litres, 1)),
    )  # fmt: skip
