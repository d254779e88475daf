"""A centre that is killed at any moment while three sites hand over: nothing that it acknowledged
is lost, and nothing is held twice."""

import json
import random
import threading
from collections.abc import Callable
from pathlib import Path
from signal import SIGKILL

from logbook.errors import LogbookError
from logbook.ledger.store import new_id
from logbook.proof.receipt import Receipt
from logbook.proof.signing import opened, signer_at
from tests.centre.conftest import Clinic, sql
from tests.centre.test_centre_killed import PATIENCE_S, Process, line_to, serving
from tests.centre.test_refused import Centre, Lines, chained, read, state
from tests.faults.conftest import chance, report, seed, size

__all__ = ["chance", "report", "seed", "serving", "size"]
KILLS = {"quick": 1, "ci": 20, "full": 40}
"""How often the centre is killed."""
ENTRIES = {"quick": 30, "ci": 300, "full": 600}
"""How many entries each site hands over, one by one."""
MOST_RECEIPTS = 30
"""At most so many receipts come before it is killed."""


def one_by_one(lines: Lines, many: int) -> list[bytes]:
    """So many entries of a site, its last one again and again, each in a segment of its own."""
    first, *entries, last = lines
    entries += [entries[-1] | {"id": new_id()} for _ in range(many - len(entries))]
    _, *entries, _ = chained([first, *entries, last])
    previous, segments = first["prev"], []
    for seq, entry in enumerate(entries, start=1):
        end = {"count": 1, "head": entry["hash"]}
        whole = (first | {"from": seq, "prev": previous}, entry, end)
        segments.append("".join(f"{json.dumps(line)}\n" for line in whole).encode())
        previous = entry["hash"]
    return segments


class Load:
    """What the senders share: which centre answers now, and how many receipts came."""

    def __init__(self, process: Process) -> None:
        self.process, self.receipts, self.ended = process, 0, False
        self.changed = threading.Condition()

    def now(self, **values: object) -> None:
        """Say what is otherwise now."""
        with self.changed:
            for name, value in values.items():
                setattr(self, name, value)
            self.changed.notify_all()

    def heard(self) -> None:
        """Count a receipt."""
        with self.changed:
            self.receipts += 1
            self.changed.notify_all()

    def wait(self, holds: Callable[[], bool], at_most_s: float = PATIENCE_S) -> bool:
        """Wait until something holds of it."""
        with self.changed:
            return self.changed.wait_for(holds, at_most_s)


class Sender(threading.Thread):
    """Hands over a site's segments one after the other, each until it is acknowledged."""

    def __init__(self, segments: list[bytes], token: Path, load: Load) -> None:
        super().__init__(daemon=True)
        self.segments, self.token, self.load = segments, token, load
        self.acknowledged = 0

    def run(self) -> None:
        """Send; what fails is sent again, to whichever centre answers then."""
        for segment in self.segments:
            while not self.load.ended and not self.sent(segment, self.load.process):
                pass

    def sent(self, segment: bytes, to: Process) -> bool:
        """Whether a centre acknowledged it; if not, another one is waited for a while."""
        try:
            note = line_to(to, self.token).send(segment)
        except LogbookError:
            self.load.wait(lambda: self.load.ended or self.load.process is not to, 1)
            return False
        receipt = Receipt.read(opened(note, signer_at(to.signing_key).public))
        self.acknowledged = receipt.entries
        self.load.heard()
        return True


def test_a_centre_killed_at_any_moment_lost_nothing_it_acknowledged_and_holds_all_once(
    group: list[Clinic], centre: Centre, store: str, serving: Callable[[], Process],
    tmp_path: Path, chance: random.Random, size: str, report: Callable[[str], None],
) -> None:  # fmt: skip
    load, senders = Load(serving()), []
    for one in group:
        token = tmp_path / one.name
        token.write_text(centre("site", "token", one.name).out)
        senders.append(Sender(one_by_one(read(one.segment()), ENTRIES[size]), token, load))
    for sender in senders:
        sender.start()
    try:
        for _ in range(KILLS[size]):
            wanted = load.receipts + chance.randint(1, MOST_RECEIPTS)
            assert load.wait(lambda wanted=wanted: load.receipts >= wanted)
            load.process.stop(SIGKILL)
            promised = {one.name: sender.acknowledged for one, sender in
                        zip(group, senders, strict=True)}  # fmt: skip
            held = {name: entries for name, entries, _ in state(centre)}
            assert all(held[name] >= promised[name] for name in promised)
            load.now(process=serving())
        for sender in senders:
            sender.join(5 * PATIENCE_S)
    finally:
        load.now(ended=True)
    assert [sender.acknowledged for sender in senders] == [ENTRIES[size]] * 3
    assert centre("verify").code == 0
    assert sql(store, "SELECT count(*) FROM logbook.entry") == [(3 * ENTRIES[size],)]
    report(f"centre killed under load: {KILLS[size]}, {load.receipts} receipts, 0 lost, 0 doubled")
