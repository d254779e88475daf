"""What was known at a moment beside what is known now, for the sheet of any question."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from difflib import SequenceMatcher
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from logbook.sheets.as_json import content
from logbook.sheets.line import Line, Lines, as_lines
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import local_text


@dataclass(frozen=True, slots=True)
class Difference:
    """Lines that stood ``then`` where those of ``now`` stand."""

    then: list[str]
    now: list[str]


@dataclass(frozen=True, slots=True)
class AsKnownSheet(Sheet):
    """The answer from the entries recorded by ``known_on``, the answer from all that is known now,
    each by the schema that it names, and the lines in which the two differ."""

    schema: ClassVar[str] = "as-known/1"
    known_on: datetime
    then: dict[str, Any]
    now: dict[str, Any]
    differences: list[Difference]
    shown: TextAlone[list[Line]]

    @classmethod
    def of(cls, at: datetime, zone: ZoneInfo, then: Sheet, now: Sheet) -> "AsKnownSheet":
        """The two answers to one question side by side."""
        old, new = as_lines(then.lines()), as_lines(now.lines())
        parts = SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
        differ = [
            Difference(_bare(old[a:b]), _bare(new[c:d]))
            for what, a, b, c, d in parts
            if what != "equal"
        ]
        rows = [Line(f"As known on {local_text(at, zone)}; THEN and NOW stand where they differ.")]
        for what, a, b, c, d in parts:
            rows += old[a:b] if what == "equal" else _marked(old[a:b], "THEN")
            rows += [] if what == "equal" else _marked(new[c:d], "NOW")
        if not differ:
            rows.append(Line("Nothing of this is known otherwise now."))
        return cls(at, content(then), content(now), differ, rows)

    def lines(self) -> Lines:
        """The lines known then; where they differ both, each with the word for its time."""
        return self.shown


def _bare(lines: list[Line]) -> list[str]:
    return [line.text.strip() for line in lines]


def _marked(lines: list[Line], word: str) -> Iterator[Line]:
    for line in lines:
        bare = line.text.lstrip()
        before = line.text[: len(line.text) - len(bare)]
        yield line._replace(text=f"{before}{word}: {bare}")
