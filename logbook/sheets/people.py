"""Who signs entries."""

from dataclasses import dataclass
from typing import ClassVar

from logbook.answers.people import Person
from logbook.errors import Act
from logbook.sheets.line import Line, Lines, Table
from logbook.sheets.sheet import Sheet


@dataclass(frozen=True, slots=True)
class StaffListSheet(Sheet):
    """Everybody who may sign, with the name beside the initials where one is kept."""

    schema: ClassVar[str] = "staff-list/1"
    staff: list[Person]

    def lines(self) -> Lines:
        """The people as text."""
        rows = [(one.initials, one.name or "(no name kept)") for one in self.staff]
        nobody = [Line("Nobody signs yet", act=Act.ADD_PERSON, about="INITIALS")]
        return [Table(rows)] if rows else nobody
