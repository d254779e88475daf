"""What is refused because it cannot have happened; everything else is recorded and flagged."""

import uuid
from datetime import datetime

from sqlalchemy import Connection

from logbook.errors import InputError
from logbook.ledger.store import Draft
from logbook.recording.refusals.claim import Claim, refuse_time
from logbook.recording.refusals.content import refuse_content
from logbook.recording.refusals.corrections import correction
from logbook.recording.refusals.equipment import refuse_names
from logbook.recording.refusals.people import refuse_signer
from logbook.units import shown


def refuse_nonsense(connection: Connection, draft: Draft, now: datetime) -> None:
    """Every refusal that fits the draft.

    Raises:
        InputError: it names the field, the value and what would do.
    """
    refuse_identity(draft.id)
    refuse_time(connection, draft.happened_at, now)
    if getattr(draft.body, "initials", None) != draft.by:
        refuse_signer(connection, draft.by)
    claim = Claim(connection, draft.body, draft.happened_at, now)
    if draft.body.kind == "correction":
        correction(claim)  # type: ignore[arg-type]
    else:
        refuse_content(claim)


def refuse_beforehand(
    connection: Connection, machine: str, at: datetime, by: str, now: datetime
) -> None:
    """Refuse what would be refused of anything on a machine: asked before a long walk begins.

    Raises:
        InputError: the time makes no sense, or the machine was retired by then.
        NotKnown: there is no such machine, or nobody here signs so.
    """
    refuse_time(connection, at, now)
    refuse_signer(connection, by)
    refuse_names(connection, {"machine": machine}, int(at.timestamp()))


def refuse_identity(draft_id: str) -> None:
    """Whoever makes drafts gives each a UUID, by which a retry is recognised in any spelling.

    Raises:
        InputError: it is none.
    """
    try:
        plain = str(uuid.UUID(draft_id)) == draft_id
    except ValueError:
        plain = False
    if not plain:
        raise InputError(f"the identity {shown(draft_id)} is no UUID", "make a new one")
