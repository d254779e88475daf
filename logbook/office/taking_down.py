"""Saving an entry in a ledger that is open, and what every door says of it."""

from collections.abc import Callable
from datetime import datetime

from logbook.answers.consequence import Consequence
from logbook.answers.consequences import consequences
from logbook.answers.moment import moment_at
from logbook.answers.recorded import Recorded as HowRecorded
from logbook.answers.recorded import how_recorded
from logbook.answers.register import Register
from logbook.entries.base import Body, Door
from logbook.ledger.store import Draft, already_recorded, read_entry
from logbook.office.office import Opened
from logbook.recording.record import Saved, record_new
from logbook.recording.retry import Identity
from logbook.value import Value

Content = tuple[Body, datetime]
"""What an entry says, and when it happened."""


class Told(Value):
    """What a door was told: who signs, how a retry is known, and how to make what the entry says.

    The content is made from the open ledger, and only where it is not recorded already: a case
    that has ended can be ended no second time, but what ended it can be sent again.
    """

    content: Callable[[Opened], Content]
    by: str
    identity: Callable[[Opened], Identity]
    door: Door


class Recorded(Value):
    """What was saved, what follows from it, and whether it was written down late."""

    saved: Saved
    consequences: list[Consequence]
    how: HowRecorded

    @property
    def attention(self) -> bool:
        """Whether something of it calls for somebody."""
        return any(one.attention for one in self.consequences)


def take_down(opened: Opened, told: Told) -> Recorded:
    """Save one entry in the open transaction; say what was saved and what follows from it.

    Raises:
        InputError: the entry makes no sense; one sentence says which field and what would do.
    """
    identity = told.identity(opened)
    opened.identities.append(identity)
    seq = already_recorded(opened.connection, identity.draft_id)
    before = read_entry(opened.connection, seq) if seq is not None else None
    saved = Saved(before, again=True) if before else _saved(opened, told, identity)
    moment = moment_at(opened.now, opened.zone)
    register = Register(opened.connection, opened.clinic)
    follows = consequences(register, saved.entry, moment)
    return Recorded(saved, follows, how_recorded(register, saved.entry))


def _saved(opened: Opened, told: Told, identity: Identity) -> Saved:
    body, happened_at = told.content(opened)
    identity.keep()
    body = body.model_copy(update={"door": told.door})
    return record_new(opened, Draft(body, happened_at, told.by, identity.draft_id), opened.now)
