"""Damaged bytes: verify notices each, unless every row and every statement reads as before.

The name beside a person's initials is the one exception: it stands outside the chain, so that it
can be changed or taken out, and therefore nothing proves it.
"""

import random
import shutil
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

import pytest

from logbook.proof.verify import verify
from logbook.recording.opening import writing
from logbook.recording.record import name_person
from tests.conftest import Ran
from tests.faults.damage import DAMAGES, damaged, judge
from tests.ledger.scribe import Scribe
from tests.ledger.weeks import busy_week

EACH = {"quick": 60, "ci": 1_600, "full": 3_200}
THROUGH_THE_COMMAND = {"quick": 15, "ci": 200, "full": 400}
BATCH = 100


@pytest.fixture(scope="module")
def busy(founded: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with every kind of entry, and a name."""
    path = Path(shutil.copy(founded, tmp_path_factory.mktemp("busy") / "clinic.ledger"))
    with writing(path) as book:
        busy_week(Scribe(book))
        name_person(book, "KO", "Kim Oduya")
    assert not verify(path).findings
    return path


@pytest.mark.parametrize("kind", DAMAGES)
def test_damage_is_noticed_unless_everything_reads_as_before(
    kind: str, busy: Path, size: str, chance: random.Random, report: Callable[[str], None],
    benches: Executor,
) -> None:  # fmt: skip
    drawn = [f"{kind} {chance.getrandbits(48)}" for _ in range(EACH[size])]
    batches = [drawn[at : at + BATCH] for at in range(0, len(drawn), BATCH)]
    seen: Counter[tuple[str, str]] = Counter()
    unnoticed = []
    for judged in benches.map(judge, [busy] * len(batches), [kind] * len(batches), batches):
        seen += judged.seen
        unnoticed += judged.unnoticed
    told = ", ".join(f"{count} {told}" for (_, told), count in sorted(seen.items()))
    report(f"damaged bytes, {kind}: {seen.total()}, {told}")
    assert unnoticed == []
    assert seen[kind, "noticed"] > seen.total() // 4


ORDINARY = ("due", "ready bay1", "history bay1", "board", "case list", "rule list", "note squeaks")


def test_ordinary_commands_meet_damage_in_words(
    busy: Path, ledger: Path, run_logbook: Callable[..., Ran], size: str, chance: random.Random,
    report: Callable[[str], None], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setenv("LOGBOOK_BY", "KO")
    whole, codes = busy.read_bytes(), Counter()
    for number in range(THROUGH_THE_COMMAND[size] * 2):
        content = damaged(whole, list(DAMAGES)[number % len(DAMAGES)], chance)
        ledger.write_bytes(content)
        ran = run_logbook(*ORDINARY[number % len(ORDINARY)].split())
        codes[ran.code] += 1
        if ran.code not in (0, 3):
            # Before it may stand that the file is older than the one used here: a note was saved.
            assert ran.err.splitlines()[-1].startswith("Not done, nothing saved: "), ran
    report(f"damaged bytes met by ordinary commands: exit codes {dict(codes)}")
    assert codes.keys() <= {0, 2, 3, 4, 5, 6}, codes
    assert codes[4]


def test_a_spoilt_time_zone_is_told_as_damage_and_not_as_one_that_this_computer_lacks(
    busy: Path, ledger: Path, run_logbook: Callable[..., Ran]
) -> None:
    whole = busy.read_bytes()
    assert b"America/Denver" in whole
    ledger.write_bytes(whole.replace(b"America/Denver", b"America/Deover"))
    ran = run_logbook("rule", "list")
    assert ran.code == 4
    assert "is damaged (" in ran.err


def test_the_command_says_damage_in_words_and_exits_with_4(
    busy: Path, ledger: Path, run_logbook: Callable[..., Ran], size: str, chance: random.Random,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    whole, codes = busy.read_bytes(), Counter()
    for number in range(THROUGH_THE_COMMAND[size]):
        content = damaged(whole, list(DAMAGES)[number % len(DAMAGES)], chance)
        ledger.write_bytes(content)
        ran = run_logbook("verify")
        noticed = ran.out.startswith("NOT VERIFIED: ") or ran.err.startswith("Not done, ")
        assert noticed == (ran.code != 0), ran
        codes[ran.code] += 1
        assert ledger.read_bytes() == content
    report(f"damaged bytes through the command: exit codes {dict(codes)}")
    assert codes[4] > codes.total() // 4
    assert codes.keys() <= {0, 4, 6}, codes
