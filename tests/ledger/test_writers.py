"""Two programs that write at the same time lose nothing."""

import json
import subprocess
import sys
from pathlib import Path

from sqlalchemy import func, select

from logbook.ledger.chain import first_break
from logbook.ledger.store import ledger_uuid, stored_rows
from logbook.projections.tables import note
from logbook.recording.opening import reading

APPENDS = 100
WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from logbook.entries.book import Note
from logbook.ledger.store import Draft, new_id
from logbook.recording.opening import writing
from logbook.recording.record import record
now = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)
for n in range(int(sys.argv[3])):
    with writing(Path(sys.argv[1])) as book:
        record(book, Draft(Note(text=f"{sys.argv[2]} {n}"), now, "KO", new_id()), now)
"""


def test_two_writers_lose_nothing_and_share_one_chain(ledger: Path) -> None:
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(ledger), name, str(APPENDS)],
            stderr=subprocess.PIPE,
            text=True,
        )
        for name in ("a", "b")
    ]
    assert [(writer.communicate()[1], writer.returncode) for writer in writers] == [("", 0)] * 2
    with reading(ledger) as book:
        rows = list(stored_rows(book.connection))
        texts = [json.loads(row.body)["text"] for row in rows[2:]]
        assert sorted(texts) == sorted(f"{name} {n}" for name in "ab" for n in range(APPENDS))
        for name in "ab":
            own = [one for one in texts if one.startswith(name)]
            assert own == [f"{name} {n}" for n in range(APPENDS)]
        assert first_break(ledger_uuid(book.connection), rows) is None
        count = select(func.count()).select_from(note)
        assert book.connection.execute(count).scalar() == 2 * APPENDS
