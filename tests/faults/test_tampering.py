"""What each check sees of each attack: the table is exact, also where nothing sees anything.

``verify`` is the ledger alone; ``before`` and ``after`` hold it against the head that was kept
before and after the attacked entry was written; ``memory`` is what this computer saw last, asked
for without any check. The same table stands in the manual.
"""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

import logbook.verify_standalone
from logbook.errors import LedgerError
from logbook.ledger.chain import Stored
from logbook.ledger.store import head, ledger_uuid, stand
from logbook.proof.seen import Memory
from logbook.proof.verify import verify
from logbook.recording.opening import reading, writing
from logbook.recording.record import name_person
from tests.conftest import Ran
from tests.faults.attacks import ATTACKS, POINT, change_column, older_copy
from tests.ledger.scribe import Scribe

# Per attack: the checks that ``verify`` names by itself, those on which it remarks, the first that
# the program for strangers names, what ``verify`` names against a head kept before and one kept
# after the attacked entry was written, and whether this computer's memory of the last head warns;
# ``refused`` where no command opens the file.
SEEN = """
attack                     | verify | remarks | standalone | before | after | memory
edits an entry             | guards, chain | - | guards | guards, chain | guards, chain | -
edits and puts the guards back | chain | - | chain | chain | chain | -
edits and hashes one       | chain | - | chain | chain | chain | -
edits and hashes all       | - | - | - | - | checkpoint | seen
deletes the last           | - | - | - | - | checkpoint | seen
deletes in the middle      | chain | - | chain | chain | chain | seen
inserts                    | chain | - | chain | chain | chain | seen
swaps two                  | chain | - | chain | chain | chain | -
changes a guard            | guards | - | guards | guards | guards | -
quotes a guard             | guards | - | guards | guards | guards | -
hides a trigger            | guards | - | guards | guards | guards | -
edits a table              | projections | - | - | projections | projections | -
changes a name             | - | - | - | - | - | -
appends with a right hash  | - | - | - | - | - | -
appends of another time and hand | - | clock, time, signer, unit | - | - | - | -
sets the clock back        | - | clock | - | - | - | -
corrects what is to come   | corrections | - | - | corrections | corrections | -
puts an older copy back    | - | - | - | - | checkpoint | seen
puts another ledger there  | - | - | - | checkpoint | checkpoint | seen
writes beside it as WAL    | file | - | file | file | file | refused
"""
ROWS = [[cell.strip() for cell in line.split("|")] for line in SEEN.strip().splitlines()[1:]]
COLUMNS = ("verify", "remarks", "standalone", "before", "after", "memory")
STANDALONE_SEES = {"file", "guards", "chain", "canonical", "checkpoint"}


@pytest.fixture(scope="module")
def whole(founded: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger of 30 entries; entry ``POINT`` is the case that the attacks are aimed at."""
    ledger = Path(shutil.copy(founded, tmp_path_factory.mktemp("whole") / "clinic.ledger"))
    with writing(ledger) as book:
        name_person(book, "KO", "Kim Oduya")
        tell = Scribe(book)
        tell("machine", "2026-03-01 08:00", machine="bay1", absorbent_g="1200")
        while head(book.connection)[0] < POINT - 1:
            tell("oxygen_reading", "2026-03-01 09:00", machine="bay1", cylinder_psi="1500")
    shutil.copy(ledger, older_copy(ledger))
    with writing(ledger) as book:
        tell = Scribe(book)
        tell.case("2026-03-02 08:10", "2026-03-02 09:45")
        tell.case("2026-03-02 10:10", "2026-03-02 11:45")
        while head(book.connection)[0] < 30:
            tell("note", "2026-03-02 12:00", text="quiet")
    return ledger


@pytest.fixture
def attacked(whole: Path, ledger: Path) -> Path:
    """The ledger that an attack is done to, and beside it the older copy."""
    shutil.copy(older_copy(whole), older_copy(ledger))
    return Path(shutil.copy(whole, ledger))


def head_of(path: Path) -> str:
    with reading(path) as book:
        return head(book.connection)[1]


def strangers_word(ledger: Path, expected: str | None, capsys: pytest.CaptureFixture[str]) -> str:
    """What the program for strangers says first; a dash where it sees nothing."""
    code = logbook.verify_standalone.main([str(ledger), *([expected] if expected else [])])
    said = capsys.readouterr().out
    assert (code, said.split(":")[0]) in ((0, "Verified"), (4, "NOT VERIFIED"))
    return "-" if code == 0 else said.split(": ")[1]


def warning_of(seen_here: Memory, ledger: Path) -> str:
    """Whether this computer's memory warns, or no command opens the file at all."""
    try:
        with reading(ledger) as book:
            return (
                "seen" if seen_here.look(book.connection, stand(book.connection), ledger) else "-"
            )
    except LedgerError:
        return "refused"


@pytest.mark.parametrize(("attack", *COLUMNS), ROWS)
def test_each_check_sees_what_the_table_says(
    attack: str, verify: str, remarks: str, standalone: str, before: str, after: str, memory: str,
    attacked: Path, run_logbook: Callable[..., Ran], tmp_path: Path,
    capsys: pytest.CaptureFixture[str], report: Callable[[str], None],
) -> None:  # fmt: skip
    heads = {"verify": None, "before": head_of(older_copy(attacked)), "after": head_of(attacked)}
    seen_here = Memory(tmp_path / "seen")
    with reading(attacked) as book:
        seen_here.remember(ledger_uuid(book.connection), *head(book.connection))
        seen_here.remember_place(attacked, ledger_uuid(book.connection))
    ATTACKS[attack](attacked)
    told = {"standalone": strangers_word(attacked, None, capsys)}
    for place, expected in heads.items():
        against = ["--against", expected] if expected else []
        ran = run_logbook("verify", "--json", *against)
        checks = list(dict.fromkeys(one["check"] for one in ran.json["findings"]))
        assert ran.code == (4 if checks else 0)
        told[place] = ", ".join(checks) or "-"
        if place == "verify":
            told["remarks"] = (
                ", ".join(dict.fromkeys(one["check"] for one in ran.json["remarks"])) or "-"
            )
        first = [check for check in checks if check in STANDALONE_SEES]
        assert strangers_word(attacked, expected, capsys) == (first[0] if first else "-"), place
    told["memory"] = warning_of(seen_here, attacked)
    expected_words = (verify, remarks, standalone, before, after, memory)
    assert told == dict(zip(COLUMNS, expected_words, strict=True))
    report(f"tampering, {attack}: {len(told)} looks as the table tells")


@pytest.mark.parametrize("column", Stored.__slots__)
def test_another_value_in_any_column_of_an_entry_breaks_the_chain(
    attacked: Path, column: str, report: Callable[[str], None]
) -> None:
    change_column(attacked, column)
    assert "chain" in {one.check for one in verify(attacked).findings}
    report(f"another value, {column}: the chain tells")


def test_the_table_names_every_attack_and_every_attack_changes_the_file(attacked: Path) -> None:
    assert [row[0] for row in ROWS] == list(ATTACKS)
    whole = attacked.read_bytes()
    for attack in ATTACKS.values():
        attacked.write_bytes(whole)
        attack(attacked)
        assert attacked.read_bytes() != whole


def test_what_nothing_sees_alone_is_seen_against_a_kept_head() -> None:
    """The reason for keeping heads. A name is never proved, and no head tells who wrote what came
    after it: whoever can write the file can append what a command could have written."""
    told = {attack: dict(zip(COLUMNS, seen, strict=True)) for attack, *seen in ROWS}
    silent = [
        attack for attack, seen in told.items() if (seen["verify"], seen["remarks"]) == ("-", "-")
    ]
    assert len(silent) > 2
    unseen = [one for one in silent if told[one]["after"] == "-"]
    assert unseen == ["changes a name", "appends with a right hash"]
