"""The clinic on which faults happen, and every command that writes, as a person types it."""

import json
from dataclasses import dataclass
from pathlib import Path

from logbook.checklists import builtin
from tests.faults.bench import Place, run

FOUNDING = (
    ("new", "Alder Creek", "--timezone", "America/Denver"),
    ("staff", "add", "KO", "Day lead"),
    ("machine", "add", "bay1", "--serial", "M-1001"),
    ("vaporizer", "add", "iso1", "--agent", "isoflurane", "--capacity", "250ml", "--fit", "bay1"),
    ("case", "log", "bay1", "--began", "2026-03-02 08:10", "--ran", "1h35", "--circuit", "adult"),
    ("backup", "{desk}/old.ledger"),
    ("note", "one that the backup lacks"),
    ("note", "and another"),
)
CASE_ENTRY = 6
KEPT_BY_BACKUP = 6
CASES = "machine,began,ran,circuit\n" + "".join(
    f"bay1,2026-02-0{day} 08:00,1h,adult\n" for day in range(1, 7)
)


@dataclass(frozen=True)
class Writing:
    """A command that writes: its words, and how many entries it adds when it is done."""

    name: str
    words: tuple[str, ...]
    adds: int

    @property
    def has_a_time(self) -> bool:
        """Whether the words say when it happened; else it happens when they are typed."""
        return "--at" in self.words or "--began" in self.words or not self.adds


LOG = ("case", "log", "bay1", "--began", "2026-03-03 08:10", "--ran", "1h35", "--dial", "2")
NOTE = Writing("note", ("note", "as of now"), 1)
DUE = Writing("due", ("due",), 0)
COMMANDS_THAT_WRITE = (
    Writing("case log", (*LOG, "--flow", "1L/min"), 1),
    NOTE,
    Writing("absorbent change", ("absorbent", "change", "bay1", "--at", "2026-03-02 07:30"), 1),
    Writing("check", ("check", "bay1", "--answers", "answers.json", "--at", "2026-03-03 07:00"), 1),
    Writing("correct", ("correct", str(CASE_ENTRY), "--ran", "1h20", "--because", "misread"), 1),
    Writing("staff add", ("staff", "add", "RT", "Night technician"), 1),
    Writing("import", ("import", "cases", "cases.csv"), 6),
    Writing("forecast show", ("forecast", "show"), 0),
    Writing("rebuild", ("rebuild",), 0),
    Writing("backup", ("backup", "{desk}/copy.ledger"), 0),
    Writing("restore", ("restore", "{desk}/old.ledger", "--go", "--because", "disk died"), 1),
    Writing("new", ("new", "Alder Creek", "--timezone", "America/Denver"), 1),
)
BY_NAME = {command.name: command for command in COMMANDS_THAT_WRITE}


def found_clinic(folder: Path) -> None:
    """A clinic with entries, a backup, and the files that commands read; and an empty desk."""
    clinic, empty = Place(folder / "clinic"), Place(folder / "empty")
    for place in (clinic, empty):
        place.desk.mkdir(parents=True)
    for words in FOUNDING:
        ran = run(clinic, words)
        assert (ran.code, ran.err) == (0, ""), ran
    (clinic.folder / "answers.json").write_text(json.dumps(_answers()))
    (clinic.folder / "cases.csv").write_text(CASES)


def _answers() -> dict[str, object]:
    """A daily check on which everything that can be left out is left out."""
    return {item.key: {"state": "not done", "reason": "no time"} for item in builtin("daily").items}


def begin_of(command: Writing, clinics: Path) -> Place:
    """Where a command is typed: at the clinic, or at a desk without a ledger."""
    return Place(clinics / ("empty" if command.name == "new" else "clinic"))
