"""The reference of a case, and how it is proved."""

from dataclasses import dataclass
from typing import ClassVar
from zoneinfo import ZoneInfo

from logbook.answers.references import Held, Reference
from logbook.sheets.line import Line, Lines, Verbatim
from logbook.sheets.sheet import Sheet, TextAlone
from logbook.times import local_text


@dataclass(frozen=True, slots=True)
class ReferenceSheet(Sheet):
    """Where the reference of a case is held, what it is, and what proves it."""

    schema: ClassVar[str] = "reference/1"
    case: Reference
    zone: TextAlone[ZoneInfo]

    def lines(self) -> Lines:
        """The reference as text."""
        one = self.case
        head = f"Case {one.entry} on {one.machine}, {local_text(one.began_at, self.zone)}: "
        if one.held is Held.IN_ENTRY:
            told = "It stands in the entry itself, so that it can never be erased."
            return [Line(f"{head}{one.reference}"), Line(told)]
        proof = Verbatim(f"sha256 {one.digest}")
        if one.held is Held.ERASED:
            told = "Whoever holds salt and reference can prove them: together their hash is"
            return [Line(f"{head}the reference was erased"), Line(told), proof]
        told = "It stands beside the chain. The entry holds the hash of salt and reference:"
        return [Line(f"{head}{one.reference}"), Line(told), Verbatim(f"salt   {one.salt}"), proof]
