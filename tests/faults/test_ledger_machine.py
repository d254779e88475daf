"""Any order of appending, retrying, refusing, correcting, rebuilding and reopening.

A plain list says what the ledger must hold; a dictionary of notes says what its table must.
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
from sqlalchemy import select

from logbook.entries.book import Correction, Note
from logbook.errors import InputError
from logbook.ledger.chain import first_break
from logbook.ledger.store import Draft, head, ledger_uuid, new_id, stored_rows
from logbook.projections.project import rebuild
from logbook.projections.tables import note
from logbook.proof.backup import backup
from logbook.proof.verify import verify
from logbook.recording.opening import Book, writing
from logbook.recording.record import record

EXAMPLES = {"quick": (8, 20), "ci": (200, 50), "full": (2_000, 80)}
NOW = datetime(2026, 3, 6, 23, 0, tzinfo=UTC)
TEXTS = st.text(min_size=1, max_size=30).filter(lambda text: bool(text.strip()))
AGO = st.integers(0, 3_000_000).map(lambda seconds: NOW - timedelta(seconds=seconds))


class Ledger(RuleBasedStateMachine):
    """A ledger beside the list of what was told to it."""

    founded: Path
    drafts: Bundle[Draft] = Bundle("drafts")

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="machine-"))
        self.path = Path(shutil.copy(self.founded, self.folder / "clinic.ledger"))
        self.told: list[Draft] = []
        self.notes: dict[int, str | None] = {}
        self.committed = list(self.told), dict(self.notes)
        self.copies = 0
        self._open()

    def _open(self) -> None:
        self._opening = writing(self.path)
        self.book: Book = self._opening.__enter__()

    def _close(self) -> None:
        self._opening.__exit__(None, None, None)
        self.committed = list(self.told), dict(self.notes)

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
        self.notes[self._record(draft)] = draft.body.text
        return draft

    @rule(draft=drafts, text=TEXTS)
    def retry(self, draft: Draft, text: str) -> None:
        """The same again is known again; something else under the same identity is refused."""
        if draft not in self.told:  # It was abandoned, so that it is new again.
            self.notes[self._record(draft)] = draft.body.text
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

    @rule(text=TEXTS, at=AGO, data=st.data())
    @precondition(lambda self: bool(self.notes))
    def correct(self, text: str, at: datetime, data: st.DataObject) -> None:
        seq = data.draw(st.sampled_from(sorted(self.notes)))
        withdrawn = data.draw(st.booleans())
        more: dict[str, Any] = {}
        if not withdrawn:
            more = {"happened_at": at, "body": {"text": Note.of(text=text).text}}
        body = Correction.of(corrects=seq, withdrawn=withdrawn, reason="slip", **more)
        self._record(Draft(body, NOW, "KO", new_id()))
        self.notes[seq] = more["body"]["text"] if more else None

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
        self.told, self.notes = list(self.committed[0]), dict(self.committed[1])
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
    def the_table_holds_the_notes(self) -> None:
        rows = self.book.connection.execute(select(note.c.entry, note.c.text))
        held = {row.entry: row.text for row in rows}
        assert held == {seq: text for seq, text in self.notes.items() if text is not None}


FOUNDED = 2
"""How many entries stand in the ledger before the machine begins."""


def test_any_order_of_events_leaves_the_ledger_and_its_tables_as_a_list_says(
    founded: Path, size: str, seed: int, monkeypatch: pytest.MonkeyPatch,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    monkeypatch.setattr(Ledger, "founded", founded, raising=False)
    examples, steps = EXAMPLES[size]
    report(f"ledger machine: {examples} examples of up to {steps} steps")
    run_state_machine_as_test(
        sown(seed)(Ledger),
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
