"""An entry that was saved, and what follows alike from many kinds."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Generic, TypeVar

from sqlalchemy import Connection, literal, select

from logbook.answers.consequence import (
    ComesBack,
    Consequence,
    IsEvidence,
    OutOfService,
)
from logbook.answers.item import Asked, ask_in
from logbook.answers.moment import Moment
from logbook.answers.register import Register
from logbook.answers.service_state import Back, open_faults
from logbook.entries.base import Body
from logbook.ledger.store import Entry
from logbook.projections.lookup import evidence_s
from logbook.times import epoch_s

B_co = TypeVar("B_co", bound=Body, covariant=True)


@dataclass(frozen=True, slots=True)
class After(Generic[B_co]):
    """An entry that was saved, the moment after it, and what it says."""

    register: Register
    moment: Moment
    entry: Entry
    body: B_co

    @property
    def connection(self) -> Connection:
        """The open ledger."""
        return self.register.connection

    def ask(self, machine: str | None = None) -> Asked:
        """What stands in the ledger now, of all units or of a machine and what stands on it."""
        return ask_in(self.register, self.moment, machine)


def still_out(
    after: After[Body], unit: str, *, until_cleared: bool = False
) -> Iterator[Consequence]:
    """That a unit is out of service, after whatever was recorded of it, and the one act that
    brings it back."""
    faults = open_faults(after.connection, unit, after.moment.at_s)
    if not faults:
        return
    yield OutOfService(unit, until_cleared)
    since = (epoch_s(faults[-1].at), faults[-1].entry)
    seq = after.entry.seq
    seen_s = after.connection.execute(select(evidence_s(literal(unit), literal(seq)))).scalar()
    if seen_s is not None and (seen_s, seq) > since:
        yield IsEvidence(unit, seq)
    else:
        is_vaporizer = unit in after.register.vaporizers(after.moment.at_s)
        yield ComesBack(unit, Back.of(vaporizer=is_vaporizer))
