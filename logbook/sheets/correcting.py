"""What of an entry can be changed, before somebody changes it."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from logbook.answers.changeable import Changeable
from logbook.entries.check import Check
from logbook.ledger.store import Entry
from logbook.sheets.line import Line, Lines, Table
from logbook.sheets.sentences import sentence
from logbook.times import local_text


def changeable_lines(entry: Entry, fields: Sequence[Changeable], zone: ZoneInfo) -> Lines:
    """The entry as it counts now, and each thing that can be changed with what it says."""
    rows = [
        ("when", local_text(entry.happened_at, zone)),
        ("initials", entry.by or "nobody's"),
        *((one.words, one.now or "not told") for one in fields),
    ]
    answers = entry.body.answers if isinstance(entry.body, Check) else ()
    rows += [(f"item {one.item}", one.state) for one in answers]
    return [
        Line(f"Entry {entry.seq} says: {sentence(entry, zone)}."),
        Line("What can be changed, and what it says now:"),
        Table([(f"  {words}", now) for words, now in rows]),
    ]
