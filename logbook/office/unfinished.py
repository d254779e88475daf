"""Keeping a check that is being walked, answer by answer, until it becomes an entry.

What is kept lies in the ledger's own file, outside the chain: any door can take it up again, after
a process was killed as well as on another screen. Only a person throws it away. Each function works
in the caller's transaction, and answers the check as it stands then.
"""

import json
from dataclasses import asdict
from datetime import datetime

from sqlalchemy import delete, insert, update

from logbook.answers.checking import ToWalk
from logbook.answers.unfinished import LIMIT, Unfinished, unfinished
from logbook.checklists import Answer, Item
from logbook.errors import InputError
from logbook.ledger.schema import unfinished_answer, unfinished_check
from logbook.ledger.store import new_id
from logbook.recording.opening import Book
from logbook.recording.refusals import refuse_identity
from logbook.times import utc_text
from logbook.units import format_decimal


def begin(
    book: Book, walk: ToWalk, by: str, now: datetime, again_of: int | None = None, *,
    identity: str | None = None,
) -> Unfinished:  # fmt: skip
    """Begin to walk a list on a machine; ``again_of`` is the check of which items are done again.

    ``identity`` is a UUID by which a door recognises the walk, and later its entry.

    Raises:
        InputError: somebody walks that list on that machine already, or the identity is none.
    """
    refuse_identity(identity or new_id())
    other = unfinished(book.connection, walk.machine, walk.checklist.name)
    if other is not None:
        # The disk can fail so late that a check was begun and not told as begun.
        if (other.walked_by, other.again_of, len(other.kept)) == (by, again_of, 0):
            return other
        raise InputError(
            f"{other.walked_by} walks the {other.checklist} check of {other.machine}",
            "take it up or throw it away first",
        )
    begun = Unfinished(
        id=identity or new_id(),
        machine=walk.machine,
        checklist=walk.checklist.name,
        version=walk.checklist.version,
        begun_at=now,
        begun_by=by,
        walked_by=by,
        again_of=again_of,
        kept={},
    )
    columns = {column.name: getattr(begun, column.name) for column in unfinished_check.columns}
    row = columns | {"begun_at": utc_text(now)}
    book.connection.execute(insert(unfinished_check).values(row))
    return begun


def keep(
    book: Book, walk: ToWalk, so_far: Unfinished, answer: tuple[Item, Answer], *, by: str,
    now: datetime,
) -> Unfinished:  # fmt: skip
    """Keep one answer with its time and by whom, in place of one that was given before.

    Raises:
        InputError: it does not fit its item, or the check was ended, taken over or begun too long
            ago.
    """
    item, given = answer
    walk.judged(item, given)
    _refuse_a_stranger(book, so_far, by)
    limit_h = walk.limits[LIMIT]
    if so_far.has_ended(now, limit_h):
        raise InputError(
            f"this {so_far.checklist} check of {so_far.machine} was begun over "
            f"{format_decimal(limit_h)} h ago",
            "begin it anew",
        )
    _forget(book, so_far, item)
    told = {name: value for name, value in asdict(given).items() if value is not None}
    book.connection.execute(
        insert(unfinished_answer).values(
            check_id=so_far.id,
            item=item.key,
            answer=json.dumps(told),
            answered_at=utc_text(now),
            by=by,
        )
    )
    return _stands(book, so_far)


def take_back(book: Book, so_far: Unfinished, item: Item, by: str) -> Unfinished:
    """Forget the answer to one item, because it is to be answered anew.

    Raises:
        InputError: somebody else walks or ended the check.
    """
    _refuse_a_stranger(book, so_far, by)
    _forget(book, so_far, item)
    return _stands(book, so_far)


def take_over(book: Book, so_far: Unfinished, by: str) -> Unfinished:
    """Go on with what another person began; who gave each answer stays told.

    Raises:
        InputError: somebody ended the check in the meantime.
    """
    _stands(book, so_far)
    table = unfinished_check
    book.connection.execute(update(table).where(table.c.id == so_far.id).values(walked_by=by))
    return _stands(book, so_far)


def throw_away(book: Book, so_far: Unfinished) -> None:
    """Forget a check with all its answers: it became an entry, or a person wants it so.

    Raises:
        InputError: somebody ended the check in the meantime.
    """
    _stands(book, so_far)
    book.connection.execute(delete(unfinished_check).where(unfinished_check.c.id == so_far.id))


def _stands(book: Book, so_far: Unfinished) -> Unfinished:
    """The check as it stands now, which another door may have changed or ended."""
    found = unfinished(book.connection, so_far.machine, so_far.checklist)
    if found is None or found.id != so_far.id:
        raise InputError(
            f"this {so_far.checklist} check of {so_far.machine} was saved or thrown away "
            "elsewhere, or a backup was brought back",
            "look at its history, and begin anew where it is needed",
        )
    return found


def _refuse_a_stranger(book: Book, so_far: Unfinished, by: str) -> None:
    found = _stands(book, so_far)
    if found.walked_by != by:
        raise InputError(
            f"{found.walked_by} walks this {so_far.checklist} check of {so_far.machine} now",
            "take it over to go on",
        )


def _forget(book: Book, so_far: Unfinished, item: Item) -> None:
    table = unfinished_answer
    given = (table.c.check_id == so_far.id) & (table.c.item == item.key)
    book.connection.execute(delete(table).where(given))
