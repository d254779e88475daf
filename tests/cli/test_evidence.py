"""``export evidence``: what a pack holds, and what it leaves out."""

import csv
import json
from collections.abc import Callable, Iterable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest

import logbook.verify_standalone as stranger
from logbook.answers.evidence import Linked, linked
from logbook.recording.opening import reading
from logbook.sheets.evidence import entry_lines
from logbook.sheets.package import Write
from tests.conftest import NOW, Ran

Command = Callable[..., Ran]
LOG = ("case", "log", "bay1", "--ran", "1h35", "--circuit", "adult", "--reference", "Case 4411")


@pytest.fixture
def kept(bay1: Command) -> Command:
    """A clinic with a late check, a case with a reference, one that was corrected, another
    machine."""
    assert bay1("machine", "add", "bay2").saved
    assert bay1("absorbent", "change", "bay1", "--at", "2026-03-02 07:30").saved
    assert bay1(*LOG, "--began", "2026-03-02 08:10").saved
    assert bay1(*LOG, "--began", "2026-03-03 08:10").saved
    assert bay1("case", "log", "bay2", "--began", "2026-03-03 09:00", "--ran", "1h").saved
    fix = ("correct", "9", "--ran", "1h20", "--set", "reference=Case 4412", "--because", "misread")
    assert bay1(*fix).saved
    assert bay1("note", "=1+1", "--on", "bay1").saved
    return bay1


def made(run: Command, folder: Path, *more: str) -> Path:
    ran = run("export", "evidence", str(folder), "--from", "2026-03-02", *more)
    assert (ran.code, ran.err) == (0, ""), ran
    return folder


def rows(pack: Path, name: str) -> list[dict[str, str]]:
    with (pack / "tables" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def files(pack: Path) -> dict[str, bytes]:
    return {
        str(one.relative_to(pack)): one.read_bytes() for one in pack.rglob("*") if one.is_file()
    }


def test_the_same_ledger_and_days_give_the_same_bytes(
    kept: Command, tmp_path: Path, clock: Callable[[object], None]
) -> None:
    first = files(made(kept, tmp_path / "a"))
    clock(NOW + timedelta(minutes=10))
    assert files(made(kept, tmp_path / "b")) == first
    until = ("--to", "2026-03-03")
    early = files(made(kept, tmp_path / "c", *until))
    clock(NOW + timedelta(days=40))
    assert files(made(kept, tmp_path / "d", *until)) == early


def test_references_are_left_out(kept: Command, tmp_path: Path) -> None:
    pack = made(kept, tmp_path / "pack")
    for name, content in files(pack).items():
        assert b"Case 4411" not in content, name
        assert b"Case 4412" not in content, name
    assert "reference" not in rows(pack, "cases")[0]
    assert stranger.main([str(pack)]) == 0


def test_references_are_in_it_where_they_are_asked_for(kept: Command, tmp_path: Path) -> None:
    pack = made(kept, tmp_path / "pack", "--references")
    assert [one["reference"] for one in rows(pack, "cases")] == ["Case 4411", "Case 4412", ""]
    assert "References of patients stand in it" in (pack / "README.txt").read_text()
    assert stranger.main([str(pack)]) == 0


@pytest.fixture
def released(run_logbook: Command, tmp_path: Path, clock: Callable[[object], None]) -> Command:
    """A ledger that the first version wrote, whose entries hold references themselves."""
    clock(NOW + timedelta(days=365))  # It was made on a day after the others' clock.
    old = Path(__file__).parents[1] / "fixtures" / "0.1.0.ledger"
    copy = tmp_path / "released.ledger"
    copy.write_bytes(old.read_bytes())
    return lambda *words: run_logbook("--ledger", str(copy), *words)


def test_what_an_entry_holds_of_a_patient_is_taken_out_of_it(
    released: Command, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = [
        json.loads(line)
        for line in (made(released, tmp_path / "pack") / "entries.jsonl").read_text().splitlines()
    ]
    bare = [one for one in lines if one.get("left_out") == "reference"]
    assert bare
    assert all('"reference"' not in one["body"] for one in lines)
    assert stranger.main([str(tmp_path / "pack")]) == 0
    said = f"; {len(bare)} without reference, their hashes unproved"
    assert said in capsys.readouterr().out
    whole = made(released, tmp_path / "whole", "--references")
    assert stranger.main([str(whole)]) == 0
    assert "unproved" not in capsys.readouterr().out


def test_tables_tell_what_counts_now_and_entries_what_was_written(
    kept: Command, tmp_path: Path
) -> None:
    pack = made(kept, tmp_path / "pack")
    told = {one["entry"]: one for one in rows(pack, "cases")}
    assert (told["9"]["ran_s"], told["9"]["corrected_by"]) == ("4800", "11")
    assert "no daily check: none of bay1" in told["9"]["against"]
    lines = [json.loads(line) for line in (pack / "entries.jsonl").read_text().splitlines()]
    [nine] = [json.loads(one["body"]) for one in lines if one["seq"] == 9]
    assert nine["ended_at"] == "2026-03-03T16:45:00Z"
    assert rows(pack, "note")[0]["text"] == "'=1+1"
    [fix] = rows(pack, "correction")
    assert (fix["by"], fix["corrects"], fix["told_happened_at"]) == (
        "KO", "9", "2026-03-03T15:10:00Z"
    )  # fmt: skip


def test_no_row_waits_in_memory_for_those_behind_it(kept: Command, ledger: Path) -> None:
    # A year of a large clinic is a hundred megabytes of them.
    written: dict[str, list[bytes]] = {}
    seen = 0

    def into(path: str) -> Write:
        return written.setdefault(path, []).append

    def told(rows: Iterable[Linked]) -> Iterator[Linked]:
        nonlocal seen
        for one in rows:
            yield one
            if one.row.kind == "note":
                assert b"=1+1" in written["tables/note.csv"][-1]
                seen += 1

    with reading(ledger) as book:
        lines = entry_lines(told(linked(book.connection, range(1, 13))), {}, into, references=False)
        first = next(lines)
        assert b'"seq":1,' in first
        assert list(written) == ["tables/clinic.csv"]
        assert len(list(lines)) == 11
    assert seen == 1


def test_the_entries_are_those_of_the_days_and_what_says_how_to_read_them(
    kept: Command, tmp_path: Path
) -> None:
    pack = made(kept, tmp_path / "pack", "--to", "2026-03-02")
    lines = [json.loads(line) for line in (pack / "entries.jsonl").read_text().splitlines()]
    # Clinic, staff, machines, vaporizer and its fitting; the change; the case of that day.
    assert [one["seq"] for one in lines] == [1, 2, 3, 4, 5, 6, 7, 8]
    assert [one["entry"] for one in rows(pack, "cases")] == ["8"]


def test_a_pack_of_one_machine_tells_nothing_of_another(kept: Command, tmp_path: Path) -> None:
    pack = made(kept, tmp_path / "pack", "--machine", "bay2")
    assert {one["machine"] for one in rows(pack, "cases")} == {"bay2"}
    assert {one["machine"] for one in rows(pack, "findings")} == {"bay2"}
    assert {one["machine"] for one in rows(pack, "due")} == {"bay2"}
    lines = [json.loads(line) for line in (pack / "entries.jsonl").read_text().splitlines()]
    assert [one["seq"] for one in lines] == [1, 2, 3, 4, 5, 6, 10]


def test_the_charge_in_use_before_the_days_is_told_with_its_cases(
    kept: Command, tmp_path: Path
) -> None:
    ran = kept("export", "evidence", str(tmp_path / "pack"), "--from", "2026-03-03")
    assert ran.code == 0
    assert [one["entry"] for one in rows(tmp_path / "pack", "cases")] == ["8", "9", "10"]
    assert [one["entry"] for one in rows(tmp_path / "pack", "absorbent_change")] == ["7"]


def test_the_sum_of_all_sums_is_told(kept: Command, tmp_path: Path) -> None:
    import hashlib

    ran = kept("export", "evidence", str(tmp_path / "pack"), "--from", "2026-03-02")
    sums = (tmp_path / "pack" / "SHA256SUMS").read_bytes()
    assert f"SHA-256 of SHA256SUMS: {hashlib.sha256(sums).hexdigest()}\n" in ran.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from", "2026-03-02", "--to", "2026-03-07"), "lies in the future"),
        (("--from", "2026-03-02", "--machine", "bay9"), "there is no machine bay9"),
    ],
)
def test_what_cannot_be_shown_leaves_no_folder(
    kept: Command, tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    place = tmp_path / "empty"
    place.mkdir()
    ran = kept("export", "evidence", str(place / "pack"), *words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert list(place.iterdir()) == []


def test_no_folder_is_replaced_and_none_above_it_is_made(kept: Command, tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    ran = kept("export", "evidence", str(tmp_path / "there"), "--from", "2026-03-02")
    assert (ran.code, "exists already" in ran.err) == (2, True)
    ran = kept("export", "evidence", str(tmp_path / "no" / "pack"), "--from", "2026-03-02")
    assert (ran.code, ran.out) == (5, "")
    assert not (tmp_path / "no").exists()
