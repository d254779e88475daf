"""A kind of entry stands once in each registry, and in the examples from which tests are made."""

from logbook.entries import KINDS, model
from logbook.ledger.store import read_entry, stored_rows
from logbook.projections.facts import FACTS
from logbook.recording.opening import Book
from logbook.sheets.sentences import sentence
from tests.entries.fields import FULL
from tests.ledger.scribe import Scribe
from tests.ledger.weeks import busy_week


def test_every_kind_has_its_model_its_rows_and_a_full_example() -> None:
    assert {kind: model(kind).kind for kind in KINDS} == {kind: kind for kind in KINDS}
    assert FACTS.keys() == KINDS.keys(), "logbook/projections/facts.py: FACTS"
    assert FULL.keys() == KINDS.keys(), "tests/entries/fields.py: FULL"


def test_every_kind_says_in_a_sentence_what_it_is(book: Book, tell: Scribe) -> None:
    busy_week(tell)
    for row in stored_rows(book.connection):
        entry = read_entry(book.connection, row.seq)
        assert entry is not None
        assert len(sentence(entry, book.zone)) > len(entry.kind)
