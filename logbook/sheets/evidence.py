"""An evidence pack: the files by which a stranger sees how machines were kept, and can check it."""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from logbook.answers.case_flags import accuses
from logbook.answers.cases import CaseFacts, CaseLine
from logbook.answers.evidence import Evidence, Linked
from logbook.answers.facts import Change
from logbook.answers.rules import InForce
from logbook.proof.checkpoint import Checkpoint
from logbook.sheets.as_json import plain
from logbook.sheets.audit import FindingRow
from logbook.sheets.due_text import DueRow
from logbook.sheets.flags import flag_line
from logbook.sheets.package import Field, Into, Table, entry_row, fields_of, fields_of_kind
from logbook.sheets.recorded_text import recorded_marks
from logbook.times import local_text, utc_from_epoch_s, utc_text
from logbook.units import format_decimal

REFERENCE = "reference"
"""The field that names a patient; it is left out unless somebody asks for it."""
TOLD_AS_CASES = frozenset({"case", "case_begin", "case_end"})


@dataclass(frozen=True, slots=True)
class CaseShown(CaseFacts):
    """A case, and what stood against its machine when it began; a remark accuses nobody."""

    recorded: str
    against: str
    remarks: str

    @classmethod
    def of(cls, line: CaseLine, zone: ZoneInfo) -> "CaseShown":
        """The row of a case; the times in its words are the clinic's."""
        told: dict[str, Any] = {one.name: getattr(line, one.name) for one in fields(CaseFacts)}
        told["recorded"] = "; ".join(recorded_marks(line.recorded))
        told["against"] = "; ".join(flag_line(one, zone) for one in line.flags if accuses(one))
        told["remarks"] = "; ".join(flag_line(one, zone) for one in line.flags if not accuses(one))
        return cls(**told)


def answer_tables(told: Evidence, into: Into, *, references: bool) -> list[Table]:
    """What was found, the cases, what was due at the end of the last day, and by which limits."""
    zone = told.due.moment.zone
    found = Table.begun("findings", "What was found, worst first", fields_of(FindingRow), into)
    for one in told.audit.findings:
        found.add(plain(FindingRow.of(one, zone)))
    shown = _shown(fields_of(CaseShown), references)
    cases = Table.begun("cases", "The cases as they stand now", shown, into)
    for line in told.cases:
        cases.add(plain(CaseShown.of(line, zone)))
    due = Table.begun("due", "What was due at the end of the last day", fields_of(DueRow), into)
    for item in told.due.items:
        due.add(plain(DueRow.of(item)))
    title = "The limits in force at the end of the last day"
    limits = Table.begun("limits", title, fields_of(InForce), into)
    for rule in told.limits:
        limits.add(plain(rule))
    return [found, cases, due, limits]


def _shown(columns: list[Field], references: bool) -> list[Field]:
    return [one for one in columns if references or one["name"] != REFERENCE]


def entry_lines(
    rows: Iterable[Linked], tables: dict[str, Table], into: Into, *, references: bool
) -> Iterator[bytes]:
    """A line of JSON for each entry as it is stored; each is added to the table of its kind, in
    ``tables``, as it stands now."""
    for one in rows:
        kind = one.row.kind
        if one.now is not None and kind not in TOLD_AS_CASES:
            if kind not in tables:
                title = f"Entries of the kind {kind}, as they stand now"
                columns = _shown(fields_of_kind(kind), references)
                tables[kind] = Table.begun(kind, title, columns, into)
            happened_at, by = utc_text(one.now.happened_at), one.now.by
            header = (one.row.seq, happened_at, one.row.recorded_at, by, one.fixed_by)
            row = entry_row(header, one.now.body)
            tables[kind].add(row if references else _without(row))
        yield _line(one, references=references)


def _line(one: Linked, *, references: bool) -> bytes:
    told = {"before": one.before, **{name: getattr(one.row, name) for name in one.row.__slots__}}
    if not references and f'"{REFERENCE}"' in one.row.body:
        body = _without(json.loads(one.row.body))
        told["body"] = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
        told["left_out"] = REFERENCE
    return (json.dumps(told, ensure_ascii=True, separators=(",", ":")) + "\n").encode()


def _without(value: Any) -> Any:
    """The same without what names a patient, however deep it stands."""
    if isinstance(value, dict):
        return {name: _without(one) for name, one in value.items() if name != REFERENCE}
    return [_without(one) for one in value] if isinstance(value, list) else value


@dataclass(frozen=True, slots=True)
class ChangeShown:
    """A change of absorbent, and who signed it."""

    machine: str
    at: str
    entry: int
    by: str
    mass: str

    @classmethod
    def of(cls, tag: str, change: Change, by: str, zone: ZoneInfo) -> "ChangeShown":
        """The row of a change; its time is the clinic's."""
        mass = "" if change.mass_g is None else f"{format_decimal(change.mass_g)} g"
        return cls(tag, local_text(utc_from_epoch_s(change.at_s), zone), change.entry, by, mass)


@dataclass(frozen=True, slots=True)
class MachineRan:
    """How much a machine ran in the span."""

    machine: str
    days: int
    cases: int
    hours: str


def machines_ran(told: Evidence, first: date) -> list[MachineRan]:
    """How much each machine ran from the first day on."""
    day_of = told.due.moment.day_of
    found = []
    for tag in sorted({one.machine for one in told.cases}):
        ran = [one for one in told.cases if one.machine == tag]
        days = [day_of(int(one.began_at.timestamp())) for one in ran]
        seconds = sum(one.ran_s or 0 for one, day in zip(ran, days, strict=True) if day >= first)
        inside = [day for day in days if day >= first]
        hours = format_decimal(round(Decimal(seconds) / 3600, 1))
        found.append(MachineRan(tag, len(set(inside)), len(inside), hours))
    return found


def readme(told: Evidence, clinic: str, mark: Checkpoint, *, references: bool) -> str:
    """What the files are and how to check them, in plain words."""
    audit = told.audit
    left_out = _REFERENCES if references else _NO_REFERENCES
    return _README.format(
        clinic=clinic, first=audit.first, last=audit.last, about=audit.machine or "all machines",
        zone=told.due.moment.zone.key, left_out=left_out, program=mark.program,
        ledger=mark.ledger, entries=mark.entries, head=mark.groups,
    )  # fmt: skip


_REFERENCES = "References of patients stand in it because they were asked for: handle it so."
_NO_REFERENCES = """\
References of patients are left out. An entry that held one says so ("left_out"), and its hash
cannot be worked out anew without it; whoever keeps the logbook can show the whole entry. Remarks
stand as they were typed, whatever they name."""
_README = """\
EVIDENCE OF {clinic}
{about}, from {first} to {last} (times in words are those of {zone})

WHAT THIS IS

What the anesthesia machines' logbook says of these days. It tells what was recorded; of what nobody
wrote down it knows nothing. It was made by gas-machine logbook {program}.

report.html    The answers to read or print; what was missed stands first.
tables         The same as CSV files, and the entries of each kind as they stand now, after their
               corrections. A cell that a table program would run as a formula begins with a quote.
datapackage.json  What the columns of the tables hold (Data Package 2.0, Table Schema).
entries.jsonl  The entries themselves, a line of JSON each, as they were first written: those of
               these days, those that say how to read them, and their corrections. "body" is text
               that is JSON itself. Times in it that end in Z are UTC.
checkpoint.txt How long the whole logbook was when this was made, and the hash of its last entry.
SHA256SUMS     The SHA-256 of every other file.
verify_standalone.py  A program that checks all this; its first page says by which rule.

{left_out}

HOW TO CHECK IT

With Python 3.11 or newer and nothing else, in this folder:

    python3 verify_standalone.py .

It says "Verified", or what does not hold (exit code 4). Each entry has a hash over itself and the
hash of the entry before it, so that none can be changed unseen, and entries that follow each other
by their numbers are known to do so.

AN ENTRY THAT WAS TAKEN OUT

Numbers are missing in entries.jsonl by right, because it holds the entries of some days. So whoever
takes out one more, from the middle or from the end, and makes SHA256SUMS anew, leaves a folder that
verifies. It is seen by what was kept elsewhere. Give it to the program, one after the other:

    python3 verify_standalone.py . "SUM OR HEAD"

SUM   the SHA-256 of SHA256SUMS. It was told when the folder was made: ask whoever made it, or got
      it first. If it fits, nothing was taken out, added or changed since.
HEAD  a head on paper from one of these days (the foot of each printed sheet). If it fits, the entry
      with which the logbook ended then is still here, unchanged. Of other entries it tells nothing.
      Where the folder is of one machine, that entry may be about another and not be here.

Without either, ask for the logbook: the entries of these days can be compared with it.

WHAT IT CANNOT SEE

Whether somebody wrote all of it anew (ask for a head that was kept elsewhere), whether an entry was
true when it was written, and who stood behind initials. The tables and the report are worked out
from the entries, and can be worked out again.

LEDGER  {ledger}
ENTRIES {entries}
HEAD    {head}
"""


def sums_text(sums: Mapping[str, str]) -> bytes:
    """The list of SHA-256 as ``sha256sum -c`` reads it."""
    return "".join(f"{sums[name]}  {name}\n" for name in sorted(sums)).encode()
