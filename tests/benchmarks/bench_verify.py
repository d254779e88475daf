"""How long verifying takes, and how it grows: ``python tests/benchmarks/bench_verify.py [MOST]``.

Bodies are those of the demo clinic, again and again, in a chain that holds and with every table
filled. The years of a busy hospital are told with what it writes most (cases, readings, changes),
up to MOST entries, a million unless told otherwise; one year is told with the demo's whole mixture,
in which every third entry is a check of two dozen answers. Times are those of the processor and of
the wall; what else the computer does falls on both sides of a ratio, but not on a time.
"""

import hashlib
import json
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Any

from logbook.ledger.chain import Stored, link_hash
from logbook.ledger.store import as_entry, head, ledger_uuid, stored_rows
from logbook.projections.project import projected_rows
from logbook.proof.findings import ROWS, chain_break
from logbook.recording.demo import build_demo
from logbook.recording.opening import reading
from logbook.shipped import folder

MOST = 1_000_000
YEAR = 40_000
NOT_AGAIN = {"clinic", "staff", "machine", "vaporizer", "correction", "return_to_service"}
"""Kinds that name other entries, or that stand once in a ledger."""
VERIFY = """
import json, resource, sys, time
from pathlib import Path
from logbook.proof.verify import verify
wall = time.perf_counter()
told = verify(Path(sys.argv[1]))
print(json.dumps({
    "wall_s": time.perf_counter() - wall, "processor_s": time.process_time(),
    "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    "entries": told.checkpoint.entries, "findings": len(told.findings)}))
"""


class Growing:
    """A ledger to which the same entries are added in the same way, but quicker."""

    def __init__(self, path: Path, *, checks: bool) -> None:
        self.path = path
        build_demo(path, folder("sample_data"))
        with reading(path) as book:
            rows = list(stored_rows(book.connection))
            self.seq, self._last = head(book.connection)
        left_out = NOT_AGAIN | (set() if checks else {"check"})
        self._again = [row for row in rows if row.kind not in left_out]
        self._facts = [
            [(table.name, row) for table, row in projected_rows(as_entry(one), None)]
            for one in self._again
        ]

    def grow(self, entries: int) -> None:
        """Add entries until there are so many."""
        with closing(sqlite3.connect(self.path, isolation_level=None)) as raw:
            raw.execute("PRAGMA synchronous = OFF")
            while self.seq < entries:
                raw.execute("BEGIN")
                for _ in range(50):
                    self._pass(raw, min(len(self._again), entries - self.seq))
                raw.execute("COMMIT")

    def _pass(self, raw: sqlite3.Connection, entries: int) -> None:
        new, told = [], defaultdict(list)
        for again, rows in islice(zip(self._again, self._facts, strict=True), entries):
            self.seq += 1
            row = replace(again, seq=self.seq, id=f"bench-{self.seq}")
            self._last = link_hash(self._last, row)
            new.append([*(getattr(row, name) for name in Stored.__slots__[:-1]), self._last])
            for table, values in rows:
                numbered = {**values, "entry": self.seq}
                told[table, tuple(values)].append([*map(stored, numbered.values())])
        raw.executemany("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", new)
        for (table, names), values in told.items():
            columns = ", ".join(f'"{name}"' for name in names)
            marks = ", ".join("?" * len(names))
            raw.executemany(f'INSERT INTO "{table}" ({columns}) VALUES ({marks})', values)  # noqa: S608


def stored(value: Any) -> Any:
    """A value as SQLite keeps it."""
    return value if value is None or isinstance(value, int | str) else str(value)


def bare_loop(path: Path) -> int:
    """The least that hashing every entry takes: read its bytes, hash them once, keep nothing."""
    count = 0
    with closing(sqlite3.connect(path)) as raw:
        raw.text_factory = bytes
        for _, *text in raw.execute(f"{ROWS} ORDER BY seq"):
            hashlib.sha256(b"\n".join(text)).digest()
            count += 1
    return count


def chain(path: Path) -> int:
    """The chain part of verify."""
    with reading(path) as book:
        uuid = ledger_uuid(book.connection)
    with closing(sqlite3.connect(path)) as raw:
        assert chain_break(raw, uuid) is None
    return 0


def processor_s(work: Callable[[Path], int], path: Path) -> float:
    began = time.process_time()
    work(path)
    return time.process_time() - began


def ratio(path: Path) -> str:
    """The chain part against the bare loop, in turn, the least of five each."""
    pairs = [(processor_s(chain, path), processor_s(bare_loop, path)) for _ in range(5)]
    ours, bare = (min(times) for times in zip(*pairs, strict=True))
    return f"chain {ours:.2f} s, bare loop {bare:.2f} s: {ours / bare:.2f} times (target: 2)"


def whole(path: Path) -> dict[str, float]:
    """Verify in a process of its own, which tells its time and its memory."""
    command = [sys.executable, "-c", VERIFY, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    told: dict[str, float] = json.loads(done.stdout)
    assert told["findings"] == 0
    return told


def lines(work: Path, most: int) -> Iterator[str]:
    ledger = Growing(work / "many.ledger", checks=False)
    for entries in (most // 4, most // 2, most):
        ledger.grow(entries)
        told = whole(ledger.path)
        size_mb = ledger.path.stat().st_size / 1e6
        yield (
            f"{entries:>9,} entries, {size_mb:,.0f} MB: verified in {told['processor_s']:.1f} s of "
            f"the processor ({1e6 * told['processor_s'] / entries:.0f} us an entry), "
            f"{told['wall_s']:.1f} s by the wall, peak {told['peak_mb']:.0f} MB"
        )
    yield ratio(ledger.path)
    ledger.path.unlink()
    year = Growing(work / "year.ledger", checks=True)
    year.grow(YEAR)
    told = whole(year.path)
    yield (
        f"a year of {YEAR:,} entries with checks, {year.path.stat().st_size / 1e6:,.0f} MB: "
        f"{told['processor_s']:.1f} s of the processor, {told['wall_s']:.1f} s by the wall, "
        f"peak {told['peak_mb']:.0f} MB"
    )
    yield f"the year: {ratio(year.path)}"


def main() -> None:
    most = int(sys.argv[1]) if len(sys.argv) > 1 else MOST
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        for line in lines(Path(name), most):
            print(line, flush=True)


if __name__ == "__main__":
    main()
