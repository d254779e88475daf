"""A segment: a run of entries on its way to a group's centre, as lines of JSON.

The first line names the ledger, the number of the first entry and the hash before it; then comes
one line an entry, every stored column as its text; the last line tells how many entries there are
and the hash of the last. Whoever has the segment and the hash before it can check every line.
"""

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, select

from logbook.errors import InputError
from logbook.ledger.chain import Stored, genesis_hash, link_hash
from logbook.ledger.schema import entry
from logbook.ledger.store import ledger_uuid

FORM = 1
"""The number of the form; a later form gets another one."""
UNKEPT = re.compile("[\0\ud800-\udfff]")
"""PostgreSQL keeps no NUL, and a lone surrogate can neither be stored nor hashed."""
LONGEST_LINE = 4_000_000
"""In signs. An entry is refused long before; what is longer was not written by this program."""


class SegmentBroken(InputError):
    """A segment that is torn or whose entries do not continue each other."""


@dataclass(frozen=True, slots=True)
class Segment:
    """Entries ``first`` and on of one ledger, with ``previous``, the hash before them."""

    ledger: str
    first: int
    previous: str
    rows: tuple[Stored, ...]

    @property
    def last(self) -> int:
        """The number of its last entry; of an empty segment the number before its first."""
        return self.first + len(self.rows) - 1

    @property
    def head(self) -> str:
        """The hash that its last entry has."""
        return self.rows[-1].hash if self.rows else self.previous


def segment_lines(
    connection: Connection, after: int, most_signs: int | None = None
) -> Iterator[str]:
    """The entries after number ``after`` as the lines of a segment: all, or so many as make a
    segment that ends once it has ``most_signs``."""
    count, signs, last = 0, 0, hash_at(connection, after) or ""
    first = {"segment": FORM, "ledger": ledger_uuid(connection), "from": after + 1}
    yield _line(first | {"prev": last})
    query = select(entry).where(entry.c.seq > after).order_by(entry.c.seq)
    with connection.execute(query).yield_per(1000) as rows:
        for row in rows:
            line = _line(dict(row._mapping))
            count, signs, last = count + 1, signs + len(line), row.hash
            yield line
            if most_signs and signs >= most_signs:
                break
    yield _line({"count": count, "head": last})


def references_in(connection: Connection, after: int) -> int:
    """How many entries after number ``after`` hold a patient's reference themselves, as those of
    the first version do."""
    places = ("$.reference", "$.body.reference")
    told = func.coalesce(*(func.json_extract(entry.c.body, place) for place in places))
    kinds = ("case", "case_begin", "correction")
    holds = (entry.c.seq > after, entry.c.kind.in_(kinds), told.is_not(None))
    query = select(func.count()).where(*holds)
    return int(connection.execute(query).scalar_one())


def hash_at(connection: Connection, seq: int) -> str | None:
    """The hash of an entry, or of the empty ledger; None where it does not reach so far."""
    if seq == 0:
        return genesis_hash(ledger_uuid(connection))
    found: str | None = connection.execute(select(entry.c.hash).where(entry.c.seq == seq)).scalar()
    return found


def _line(values: dict[str, Any]) -> str:
    return json.dumps(values, ensure_ascii=True, separators=(",", ":")) + "\n"


def read_segment(lines: Iterable[str]) -> Segment:
    """A segment read and checked: whole, one entry after the other, each by its hash.

    Raises:
        SegmentBroken: the sentence names the line or the entry that does not hold.
    """
    parsed = [_parsed(number, line) for number, line in enumerate(lines, start=1)]
    if len(parsed) < 2 or "count" not in parsed[-1]:
        raise SegmentBroken("the segment is torn: its last line is missing", "hand it over again")
    begin, *middle, end = parsed
    if begin.get("segment") != FORM:
        raise SegmentBroken(
            "its first line is not that of a segment which this program knows",
            "make it with hand-over, or install the newer program",
        )
    segment = Segment(
        _text(begin, "ledger", 1),
        _count(begin, "from", 1),
        _hash(begin, "prev", 1),
        tuple(_stored(number, values) for number, values in enumerate(middle, start=2)),
    )
    _check_chain(segment)
    if (end.get("count"), end.get("head")) != (len(segment.rows), segment.head):
        raise SegmentBroken("the segment is torn: its last line tells another end", _AGAIN)
    return segment


_AGAIN = "hand it over again"


def _check_chain(segment: Segment) -> None:
    previous = segment.previous
    for seq, row in enumerate(segment.rows, start=segment.first):
        if row.seq != seq:
            raise SegmentBroken(f"entry {seq} is missing in the segment", _AGAIN)
        if row.hash != link_hash(previous, row):
            raise SegmentBroken(f"entry {seq} does not continue the one before it", _AGAIN)
        previous = row.hash


def _parsed(number: int, line: str) -> dict[str, Any]:
    try:
        values = json.loads(line) if len(line) <= LONGEST_LINE else None
    except (ValueError, RecursionError):
        values = None
    if not isinstance(values, dict):
        raise SegmentBroken(f"the segment is torn at line {number}", _AGAIN)
    return values


def _stored(number: int, values: dict[str, Any]) -> Stored:
    names = set(Stored.__slots__)
    if set(values) != names:
        raise SegmentBroken(f"line {number} of the segment is not that of an entry", _AGAIN)
    texts = {name: _text(values, name, number) for name in names - {"seq", "hash"}}
    return Stored(seq=_count(values, "seq", number), hash=_hash(values, "hash", number), **texts)


def _text(values: dict[str, Any], name: str, number: int) -> str:
    value = values.get(name)
    if not isinstance(value, str) or UNKEPT.search(value):
        raise SegmentBroken(f"line {number} of the segment has no readable {name}", _AGAIN)
    return value


def _count(values: dict[str, Any], name: str, number: int) -> int:
    value = values.get(name)
    if type(value) is not int or not 1 <= value < 2**53:
        raise SegmentBroken(f"line {number} of the segment has no number in {name}", _AGAIN)
    return value


def _hash(values: dict[str, Any], name: str, number: int) -> str:
    value = _text(values, name, number)
    if len(value) != 64 or set(value) - set("0123456789abcdef"):
        raise SegmentBroken(f"line {number} of the segment has no hash in {name}", _AGAIN)
    return value
