"""The chain, computed a second time here with nothing but hashlib."""

import hashlib
import re
import sqlite3
from contextlib import closing
from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import logbook
from logbook.entries.book import Note
from logbook.ledger.chain import Stored, first_break, genesis_hash, link_hash
from logbook.ledger.store import head, ledger_uuid, stored_rows
from logbook.recording.opening import Book, reading, writing
from tests.ledger.scribe import Scribe

UUID = "12345678-1234-4234-8234-123456789abc"
FIRST = Stored(
    seq=1,
    id="00000000-0000-4000-8000-000000000001",
    kind="note",
    happened_at="2026-03-02T14:30:00Z",
    happened_local="2026-03-02T07:30:00-07:00",
    recorded_at="2026-03-02T14:31:00Z",
    recorded_local="2026-03-02T07:31:00-07:00",
    by="KO",
    body='{"text":"caf\\u00e9"}',
)
GENESIS_VECTOR = "f62475a3562eab240321ac98e343d18cb31aad14ccccd19957158758ef19de15"
FIRST_VECTOR = "e39400633228b644e19058aaefe2c7b7ebdc32a0abe400cdb3f42627a1f1a25c"


def by_hand(previous: bytes, row: tuple) -> bytes:
    """The hash of a row out of the file, from the words of the design alone."""
    seq, *header, body = row
    text = "\n".join([*header, body]).encode()
    number = seq.to_bytes(8, "big")
    return hashlib.sha256(b"gas-machine-logbook entry-v1\n" + previous + number + text).digest()


def test_the_first_hash_comes_from_the_identity_of_the_ledger() -> None:
    assert genesis_hash(UUID) == GENESIS_VECTOR


def test_an_entry_hashes_to_its_documented_vector() -> None:
    assert link_hash(GENESIS_VECTOR, FIRST) == FIRST_VECTOR


def test_a_second_program_finds_the_same_hashes_in_the_file(ledger: Path) -> None:
    with writing(ledger) as book:
        for text in ("caster squeaks", "Übergabe 10 µL"):
            Scribe(book)("note", "2026-03-02 07:30", text=text)
    with closing(sqlite3.connect(ledger)) as raw:
        uuid = raw.execute("SELECT uuid FROM ledger").fetchone()[0]
        columns = "seq, id, kind, happened_at, happened_local, recorded_at, recorded_local, by"
        rows = raw.execute(f"SELECT {columns}, body, hash FROM entry ORDER BY seq").fetchall()  # noqa: S608
    previous = hashlib.sha256(b"gas-machine-logbook genesis-v1\n" + uuid.encode()).digest()
    assert [row[0] for row in rows] == [1, 2, 3, 4]
    for row in rows:
        previous = by_hand(previous, row[:-1])
        assert row[-1] == previous.hex()


def test_an_entry_keeps_utc_and_the_wall_time_of_the_clinic(book: Book, tell: Scribe) -> None:
    tell("note", "2026-07-01 08:00", text="summer")
    *_, row = stored_rows(book.connection)
    assert (row.happened_at, row.happened_local) == (
        "2026-07-01T14:00:00Z",
        "2026-07-01T08:00:00-06:00",
    )
    assert row.recorded_local == "2027-12-31T17:00:00-07:00"


def chain_of(texts: list[str]) -> list[Stored]:
    rows, previous = [], genesis_hash(UUID)
    for seq, text in enumerate(texts, start=1):
        row = replace(FIRST, seq=seq, body=Note(text=text).canonical())
        previous = link_hash(previous, row)
        rows.append(replace(row, hash=previous))
    return rows


def test_a_whole_chain_has_no_break() -> None:
    assert first_break(UUID, chain_of(["a", "b", "c"])) is None
    assert first_break(UUID, []) is None


@pytest.mark.parametrize("column", [field.name for field in fields(Stored)])
def test_no_column_can_change_unseen(column: str) -> None:
    rows = chain_of(["a", "b", "c"])
    old = getattr(rows[1], column)
    changed = old + 1 if column == "seq" else ("x" + old)[: len(old)]
    rows[1] = replace(rows[1], **{column: changed})
    assert first_break(UUID, rows) == 2


@given(st.data())
def test_rows_cannot_be_moved_removed_or_taken_from_another_ledger(data: st.DataObject) -> None:
    rows = chain_of(["a", "b", "c", "d"])
    place = data.draw(st.integers(0, 2))
    swapped = rows.copy()
    swapped[place], swapped[place + 1] = swapped[place + 1], swapped[place]
    assert first_break(UUID, swapped) == place + 1
    assert first_break(UUID, rows[:place] + rows[place + 1 :]) == place + 1
    assert first_break(UUID.replace("c", "d"), rows) == 1


def test_a_new_number_given_to_a_moved_row_does_not_mend_the_chain() -> None:
    rows = chain_of(["a", "b", "c"])
    assert first_break(UUID, [rows[0], replace(rows[2], seq=2)]) == 2


def test_a_chain_written_anew_around_a_gap_is_broken_at_the_gap() -> None:
    first, *_ = chain_of(["a"])
    third = replace(FIRST, seq=3)
    third = replace(third, hash=link_hash(first.hash, third))
    assert first_break(UUID, [first, third]) == 2


def test_the_head_of_the_chain_is_the_last_entry(ledger: Path) -> None:
    with reading(ledger) as book:
        rows = list(stored_rows(book.connection))
        assert head(book.connection) == (2, rows[-1].hash)
        assert first_break(ledger_uuid(book.connection), rows) is None


def test_the_vectors_told_to_strangers_are_those_of_the_chain() -> None:
    told = Path(logbook.__file__).with_name("verify_standalone.py").read_text("utf-8")
    genesis, first = re.findall(r"h\([01]\) = ([0-9a-f]{64})", told)
    uuid = "00000000-0000-4000-8000-000000000000"
    assert uuid in told
    assert genesis_hash(uuid) == genesis
    assert (
        link_hash(
            genesis,
            replace(
                FIRST,
                recorded_at=FIRST.happened_at,
                recorded_local=FIRST.happened_local,
                body='{"text":"first"}',
            ),
        )
        == first
    )
