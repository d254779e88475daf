"""An entry is saved once, whole and signed, or not at all."""

import uuid
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from logbook.entries.book import Note
from logbook.entries.clinic import Clinic
from logbook.errors import InputError, NotSaved
from logbook.ledger.schema import person
from logbook.ledger.store import Draft, head, new_id, stored_rows
from logbook.projections.tables import note
from logbook.recording import record as recording
from logbook.recording.opening import Book, reading, writing
from logbook.recording.record import name_person, record, start_ledger
from tests.conftest import NOW, ZONE
from tests.ledger.scribe import Scribe

ID = "5b4d6f0e-3c1b-4b7e-9d55-0d7f0f1a2b3c"
AT = "2026-03-02 08:00"


@pytest.fixture
def book(ledger: Path) -> Iterator[Book]:
    with writing(ledger) as opened:
        yield opened


@pytest.fixture
def tell(book: Book) -> Scribe:
    return Scribe(book)


def test_a_retry_answers_the_entry_that_is_there_already(tell: Scribe) -> None:
    first = tell.save(Note(text="x"), AT, draft_id=ID)
    tell("note", AT, text="between")
    again = tell.save(Note(text="x"), AT, draft_id=ID)
    assert (first.again, again.again) == (False, True)
    assert again.entry == first.entry
    assert head(tell.book.connection)[0] == 4
    assert tell.book.connection.execute(select(note.c.text)).scalars().all() == ["x", "between"]


def test_a_retry_is_recognised_after_the_file_was_closed(ledger: Path) -> None:
    saved = []
    for _ in range(2):
        with writing(ledger) as book:
            saved.append(Scribe(book).save(Note(text="x"), AT, draft_id=ID))
    assert [one.again for one in saved] == [False, True]
    assert saved[0].entry == saved[1].entry


def test_a_retry_of_what_would_be_refused_by_now_is_still_recognised(tell: Scribe) -> None:
    tell("machine", "2026-03-01 08:00", machine="bay1")
    begin = recording_of("case_begin", machine="bay1")
    assert not tell.save(begin, AT, draft_id=ID).again
    assert tell.save(begin, AT, draft_id=ID).again


def recording_of(kind: str, **fields: object):
    from logbook.entries import model

    return model(kind).of(**fields)


def test_the_identity_of_another_entry_is_refused(tell: Scribe) -> None:
    tell("machine", "2026-03-01 08:00", machine="bay1")
    seq = tell.save(Note(text="x"), AT, draft_id=ID).entry.seq
    others = [
        (Note(text="y"), AT),
        (recording_of("absorbent_change", machine="bay1"), AT),
    ]
    for body, at in others:
        with pytest.raises(InputError) as caught:
            tell.save(body, at, draft_id=ID)
        assert str(caught.value) == f"the identity {ID} belongs to another entry, number {seq}"
    assert head(tell.book.connection)[0] == seq


def test_a_retry_is_recognised_though_its_now_has_moved_on(tell: Scribe) -> None:
    first = tell.save(Note(text="x"), AT, draft_id=ID)
    again = tell.save(Note(text="x"), "2026-03-02 08:01", draft_id=ID)
    assert (again.again, again.entry) == (True, first.entry)


def test_a_clock_that_went_back_is_told_and_one_that_stands_still_is_not(book: Book) -> None:
    def went_back(seconds: int) -> bool:
        draft = Draft(Note(text="x"), NOW, "KO", new_id())
        return record(book, draft, NOW + timedelta(seconds=seconds)).clock_went_back

    assert [went_back(after) for after in (0, 0, 1, 0)] == [False, False, False, True]


def test_nothing_is_saved_where_a_later_step_fails(
    ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = ledger.read_bytes()

    def fail(*_: object) -> None:
        raise NotSaved("the disk is full")

    monkeypatch.setattr(recording, "apply", fail)
    with pytest.raises(NotSaved):
        save_note(ledger)
    assert ledger.read_bytes() == before


def save_note(ledger: Path) -> None:
    with writing(ledger) as book:
        Scribe(book)("note", AT, text="x")


def test_a_refused_entry_leaves_the_ones_before_it_in_the_same_opening(ledger: Path) -> None:
    with writing(ledger) as book:
        tell = Scribe(book)
        tell("note", AT, text="kept")
        with pytest.raises(InputError):
            tell("absorbent_change", AT, machine="none")
        tell("note", AT, text="kept too")
    with reading(ledger) as book:
        assert [row.seq for row in stored_rows(book.connection)] == [1, 2, 3, 4]
        assert book.connection.execute(select(note.c.text)).scalars().all() == ["kept", "kept too"]


def test_a_name_stands_beside_initials_and_the_first_one_stays(book: Book) -> None:
    name_person(book, "KO", "Kim Oduya")
    name_person(book, "KO", "Somebody Else")
    assert book.connection.execute(select(person)).all() == [("KO", "Kim Oduya")]


def test_every_draft_has_an_identity_of_its_own() -> None:
    ids = {new_id() for _ in range(100)}
    assert len(ids) == 100
    assert all(uuid.UUID(one).version == 4 for one in ids)


def clinic_draft() -> Draft:
    clinic = Clinic(name="Alder Creek Animal Hospital", timezone="America/Denver")
    return Draft(clinic, NOW - timedelta(days=1), "", new_id())


def test_a_new_ledger_never_replaces_a_file(ledger: Path) -> None:
    before = ledger.read_bytes()
    with pytest.raises(InputError, match="exists already; a new ledger never replaces a file"):
        start_ledger(ledger, [clinic_draft()], ZONE, NOW)
    assert ledger.read_bytes() == before


def test_a_new_ledger_needs_its_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"the folder .*none does not exist; make it first"):
        start_ledger(tmp_path / "none" / "clinic.ledger", [clinic_draft()], ZONE, NOW)


def test_a_new_ledger_appears_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "clinic.ledger"
    with monkeypatch.context() as failing:
        failing.setattr(recording, "apply", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            start_ledger(path, [clinic_draft()], ZONE, NOW)
    assert list(tmp_path.iterdir()) == []
    start_ledger(path, [clinic_draft()], ZONE, NOW)
    assert list(tmp_path.iterdir()) == [path]
    with reading(path) as book:
        assert str(book.zone) == str(ZONE)


def test_two_ledgers_never_share_their_identity(tmp_path: Path) -> None:
    hashes = set()
    draft = clinic_draft()
    for name in ("a", "b"):
        start_ledger(tmp_path / name, [draft], ZONE, NOW)
        with reading(tmp_path / name) as book:
            hashes.add(head(book.connection))
    assert len(hashes) == 2
