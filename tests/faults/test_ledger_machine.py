"""Any order of appending, retrying, refusing, correcting, rebuilding and reopening.

A plain list says what the ledger must hold; a dictionary of what each note, case, check, fault and
return says today tells what the tables must, what is refused, and what is out of service.
"""

import shutil
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import seed as sown
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import Table, select

from logbook.answers.service_state import open_faults
from logbook.entries.base import Body
from logbook.entries.book import Correction, Note
from logbook.entries.case import Case
from logbook.entries.check import Check
from logbook.entries.fault import Fault, ReturnToService
from logbook.entries.machine import Machine
from logbook.errors import InputError
from logbook.ledger.chain import first_break
from logbook.ledger.store import Draft, head, ledger_uuid, new_id, stored_rows
from logbook.projections.project import rebuild
from logbook.projections.tables import case, check, fault, note, return_to_service
from logbook.proof.backup import backup
from logbook.proof.verify import verify
from logbook.recording.opening import Book, writing
from logbook.recording.record import record
from tests.faults.plain import (
    Line,
    Lines,
    evidence,
    may_return,
    out_of_service,
    runs_into,
)

EXAMPLES = {"quick": (8, 20), "ci": (200, 50), "full": (300, 60)}
NOW = datetime(2026, 3, 6, 23, 0, tzinfo=UTC)
TEXTS = st.text(min_size=1, max_size=30).filter(lambda text: bool(text.strip()))
UNITS, VERDICTS = st.sampled_from(["bay1", "bay2"]), st.sampled_from(["passed", "failed"])
RAN_S = st.integers(60, 7_200)
CLOSE = st.integers(0, 20).map(lambda steps: NOW - timedelta(minutes=20 * steps))
"""Times so close that what happens at them meets."""
AGO = st.integers(0, 3_000_000).map(lambda seconds: NOW - timedelta(seconds=seconds))


def second(at: datetime) -> int:
    return int(at.timestamp())


def instant(at_s: int) -> datetime:
    return datetime.fromtimestamp(at_s, UTC)


class Ledger(RuleBasedStateMachine):
    """A ledger beside the list of what was told to it."""

    founded: Path
    drafts: Bundle[Draft] = Bundle("drafts")

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="machine-"))
        self.path = Path(shutil.copy(self.founded, self.folder / "clinic.ledger"))
        self.told: list[Draft] = []
        self.lines: Lines = {}
        self.first: dict[int, Line] = {}
        self.committed = list(self.told), dict(self.lines)
        self.copies = 0
        self._open()

    def _open(self) -> None:
        self._opening = writing(self.path)
        self.book: Book = self._opening.__enter__()

    def _close(self) -> None:
        self._opening.__exit__(None, None, None)
        self.committed = list(self.told), dict(self.lines)

    def teardown(self) -> None:
        self._close()
        assert not verify(self.path).findings
        shutil.rmtree(self.folder)

    def _record(self, draft: Draft) -> int:
        saved = record(self.book, draft, NOW)
        assert not saved.again
        self.told.append(draft)
        assert saved.entry.seq == FOUNDED + len(self.told)
        return saved.entry.seq

    @rule(target=drafts, text=TEXTS, at=AGO)
    def append(self, text: str, at: datetime) -> Draft:
        draft = Draft(Note.of(text=text), at, "KO", new_id())
        self._note(draft)
        return draft

    def _note(self, draft: Draft) -> None:
        seq, said = self._record(draft), draft.body.text
        self.lines[seq] = self.first[seq] = Line("note", None, second(draft.happened_at), said)

    @rule(draft=drafts, text=TEXTS)
    def retry(self, draft: Draft, text: str) -> None:
        """The same again is known again; something else under the same identity is refused."""
        if draft not in self.told:  # It was abandoned, so that it is new again.
            self._note(draft)
        saved = record(self.book, draft, NOW + timedelta(hours=1))
        assert saved.again
        assert saved.entry.seq == FOUNDED + 1 + self.told.index(draft)
        other = Draft(Note.of(text=f"{draft.body.text} {text}"), draft.happened_at, "KO", draft.id)
        with pytest.raises(InputError):
            record(self.book, other, NOW)

    @rule(text=TEXTS, days=st.integers(1, 10_000))
    def refuse_the_future_and_strangers(self, text: str, days: int) -> None:
        body = Note.of(text=text)
        for at, by in ((NOW + timedelta(days=days), "KO"), (NOW, "XX")):
            with pytest.raises(InputError):
                record(self.book, Draft(body, at, by, new_id()), NOW)

    def _try(self, line: Line) -> None:
        """Record what a line says, which is refused where it does not fit."""
        draft = Draft(body_of(line), instant(line.at_s), "KO", new_id())
        if self._fits(line):
            seq = self._record(draft)
            self.lines[seq] = self.first[seq] = line
        else:
            with pytest.raises(InputError):
                record(self.book, draft, NOW)

    def _fits(self, line: Line, own: int | None = None) -> bool:
        if line.kind == "case":
            return line.at_s < line.more and not runs_into(self.lines, line, own)
        return line.kind != "return_to_service" or may_return(self.lines, line)

    @rule(unit=UNITS, at=CLOSE, ran_s=RAN_S)
    def case(self, unit: str, at: datetime, ran_s: int) -> None:
        self._try(Line("case", unit, second(at), min(second(at) + ran_s, second(NOW))))

    @rule(unit=UNITS, at=CLOSE, verdict=VERDICTS)
    def check(self, unit: str, at: datetime, verdict: str) -> None:
        self._try(Line("check", unit, second(at), verdict))

    @rule(unit=UNITS, at=CLOSE, stops=st.booleans())
    def fault(self, unit: str, at: datetime, stops: bool) -> None:
        self._try(Line("fault", unit, second(at), stops))

    @rule(unit=UNITS, at=CLOSE, data=st.data())
    @precondition(lambda self: bool(self.lines))
    def return_to_service(self, unit: str, at: datetime, data: st.DataObject) -> None:
        """By the last check on the unit, or by any entry, which is refused more often."""
        checks = [seq for seq in self.lines if evidence(self.lines, unit, seq)]
        any_entry = data.draw(st.sampled_from(sorted(self.lines)))
        seq = checks[-1] if checks and data.draw(st.booleans()) else any_entry
        self._try(Line("return_to_service", unit, second(at), seq))

    @rule(at=CLOSE, ran_s=RAN_S, verdict=VERDICTS, text=TEXTS, data=st.data())
    @precondition(lambda self: bool(self.lines))
    def correct(
        self, at: datetime, ran_s: int, verdict: str, text: str, data: st.DataObject
    ) -> None:
        seq = data.draw(st.sampled_from(sorted(self.lines)))
        first = self.first[seq]
        if data.draw(st.integers(0, 3)) == 0:
            body = Correction.of(corrects=seq, withdrawn=True, reason="slip")
            self._record(Draft(body, NOW, "KO", new_id()))
            self.lines[seq] = None
            return
        more = {
            "note": Note.of(text=text).text, "case": min(second(at) + ran_s, second(NOW)),
            "check": verdict, "fault": ran_s % 2 == 0, "return_to_service": first.more,
        }[first.kind]  # fmt: skip
        line = Line(first.kind, first.unit, second(at), more)
        body = Correction.of(
            corrects=seq, withdrawn=False, reason="slip", happened_at=at,
            body=body_of(line).model_dump(mode="json", exclude_none=True),
        )  # fmt: skip
        draft = Draft(body, NOW, "KO", new_id())
        if self._fits(line, own=seq):
            self._record(draft)
            self.lines[seq] = line
        else:
            with pytest.raises(InputError):
                record(self.book, draft, NOW)

    @rule()
    def rebuild(self) -> None:
        assert rebuild(self.book.connection) == FOUNDED + len(self.told)

    @rule()
    def reopen(self) -> None:
        self._close()
        self._open()

    @rule()
    def abandon(self) -> None:
        """An error takes back all that was not committed."""
        assert not self._opening.__exit__(InputError, InputError("stopped"), None)
        self.told, self.lines = list(self.committed[0]), dict(self.committed[1])
        self._open()

    @rule()
    def back_up(self) -> None:
        """What is not committed is in no backup; what is committed is."""
        self._close()
        self.copies += 1
        told = backup(self.path, self.folder / f"copy-{self.copies}.ledger")
        self._open()
        assert (told.entries, told.head) == head(self.book.connection)
        assert told.entries == FOUNDED + len(self.told)

    @invariant()
    def the_ledger_holds_the_list(self) -> None:
        rows = list(stored_rows(self.book.connection))
        assert first_break(ledger_uuid(self.book.connection), rows) is None
        held = [(row.id, row.body) for row in rows[FOUNDED:]]
        assert held == [(draft.id, draft.body.canonical()) for draft in self.told]

    @invariant()
    def the_tables_hold_what_the_lines_say(self) -> None:
        said = {seq: line for seq, line in self.lines.items() if line is not None}
        for table, row_of in ROW_OF.items():
            kind = table.name
            rows = self.book.connection.execute(select(table))
            held = {row.entry: row_of(row) for row in rows}
            if table is fault:  # A check that failed stands there, too.
                held = {seq: line for seq, line in held.items() if said[seq].kind == "fault"}
            assert held == {seq: line for seq, line in said.items() if line.kind == kind}

    @invariant()
    def what_is_out_of_service_is_what_the_lines_say(self) -> None:
        for unit in ("bay1", "bay2"):
            found = open_faults(self.book.connection, unit, second(NOW))
            assert [one.entry for one in found] == out_of_service(self.lines, unit)


ROW_OF: dict[Table, Callable[[Any], Line]] = {
    note: lambda row: Line("note", None, row.at_s, row.text),
    case: lambda row: Line("case", row.machine, row.began_s, row.ended_s),
    check: lambda row: Line("check", row.machine, row.at_s, row.verdict),
    fault: lambda row: Line("fault", row.unit, row.at_s, bool(row.stops)),
    return_to_service: lambda row: Line(
        "return_to_service", row.unit, row.at_s, row.evidence_entry
    ),
}
"""What each table says, as a line."""


def body_of(line: Line) -> Body:
    """What a person would hand in to say it."""
    if line.kind == "note":
        return Note.of(text=line.more)
    if line.kind == "case":
        return Case.of(machine=line.unit, circuit="unknown", ended_at=instant(line.more))
    if line.kind == "check":
        answer = {"item": "bag", "state": line.more, "stops": True}
        return Check.of(machine=line.unit, checklist="daily", version=1, answers=(answer,))
    if line.kind == "fault":
        return Fault.of(unit=line.unit, what="leak", stops=line.more)
    return ReturnToService.of(unit=line.unit, evidence_entry=line.more)


FOUNDED = 4
"""How many entries stand in the ledger before the machine begins."""


def test_any_order_of_events_leaves_the_ledger_and_its_tables_as_a_list_says(
    founded: Path, size: str, seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    begun = Path(shutil.copy(founded, tmp_path / "begun.ledger"))
    with writing(begun) as book:
        for tag in ("bay1", "bay2"):
            body = Machine.of(machine=tag)
            record(book, Draft(body, NOW - timedelta(days=60), "KO", new_id()), NOW)
    monkeypatch.setattr(Ledger, "founded", begun, raising=False)
    examples, steps = EXAMPLES[size]
    run_state_machine_as_test(
        sown(seed)(Ledger),
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
    report(f"ledger machine: {examples} examples of up to {steps} steps")
