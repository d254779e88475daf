"""Handing the ledger over to a group's centre through the network, segment by segment."""

from logbook.errors import Act
from logbook.ledger.store import head
from logbook.office.line import Line, Refused, Wanted
from logbook.office.office import Office
from logbook.proof.receipt import Receipt, acknowledge, acknowledged_entries, checked, key_for
from logbook.proof.segment import segment_lines

SEGMENT_SIGNS = 250_000
"""About how long a segment is that is sent at once; our own choice: some hundred entries, and a
few seconds on a slow line."""


def hand_over(
    office: Office, line: Line, centre: str | None, *, everything: bool = False
) -> Receipt:
    """Send what the centre has not acknowledged; keep each receipt, and answer the last.

    The ledger is not open while anything is sent, so that no save waits for the network. What is
    interrupted goes on where the last receipt ended. Where ``everything`` is sent again, to be
    compared, only the last receipt is kept: a centre that lost entries has fewer until then.

    Args:
        centre: Its public key; without it the one that is kept counts.

    Raises:
        InputError: no centre is known yet, or it does not take what this site sends.
        LedgerError: the centre holds another entry than this ledger, or fewer than it did.
        LogbookError: it was not reached, or whether it took all is not known.
    """
    key = key_for(office.ledger, centre)
    with office.reading(unheard) as opened:
        after = 0
        if not everything:
            after = acknowledged_entries(opened.connection, office.ledger, key)
    while True:
        with office.reading(unheard) as opened:
            count, _ = head(opened.connection)
            segment = list(segment_lines(opened.connection, after, SEGMENT_SIGNS))
        note = _sent(line, segment, after)
        after += len(segment) - 2  # The first and the last line are no entries.
        with office.reading(unheard) as opened:
            if after >= count:
                return acknowledge(opened.connection, office.ledger, note, key)
            if everything:
                checked(opened.connection, note, key)
            else:
                acknowledge(opened.connection, office.ledger, note, key)


def unheard(_warning: str) -> None:
    """Whoever hands over looked at the ledger before, and was told what is odd about it."""


def _sent(line: Line, segment: list[str], after: int) -> str:
    try:
        return line.send("".join(segment).encode("ascii"))
    except Wanted as gap:
        lost = f"the centre had acknowledged entries 1 to {after}, and wants entry {gap.entry} next"
        raise Refused(lost, "it lost some; tell whoever runs it", act=Act.HAND_OVER_ALL) from None
