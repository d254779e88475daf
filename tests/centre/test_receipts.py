"""A receipt that comes back is held against the ledger; what it acknowledges is not sent again."""

import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from logbook.proof.receipt import Receipt, kept
from logbook.proof.segment import read_segment
from logbook.proof.signing import signer_at
from tests.centre.conftest import Clinic
from tests.conftest import NOW, Ran

Centre = Callable[..., Ran]


@pytest.fixture
def key(tmp_path: Path, centre: Centre) -> Path:
    """The file of the centre's key."""
    path = tmp_path / "centre.key"
    assert centre("key", "--key", str(path)).code == 0
    return path


@pytest.fixture
def public(centre: Centre, key: Path) -> str:
    """The line by which sites check receipts."""
    return centre("key", "--key", str(key)).out.strip()


@pytest.fixture
def note(site: Clinic, centre: Centre, key: Path, tmp_path: Path) -> Path:
    """The receipt of everything that the site has."""
    path = tmp_path / "receipt.txt"
    taken = centre("take", str(site.segment()), "--key", str(key), "--receipt", str(path))
    assert taken.code == 0, taken.err
    return path


def signed(key: Path, path: Path, receipt: Receipt) -> Path:
    """A receipt of a centre that says something else."""
    path.write_text(signer_at(key).sign(receipt.text()))
    return path


def read(site: Clinic, note: Path, *more: str) -> Ran:
    return site.run("--ledger", str(site.ledger), "hand-over", "--receipt", str(note), *more)


def test_what_was_acknowledged_is_not_handed_over_again(
    site: Clinic, centre: Centre, note: Path, public: str, key: Path, tmp_path: Path
) -> None:
    first = site.segment()
    count = read_segment(first.read_text().splitlines(keepends=True)).last
    told = read(site, note, "--centre", public)
    assert (told.code, f"entries 1 to {count}" in told.out) == (0, True)
    assert site("note handed --by KO").code == 0
    second = site.segment()
    assert read_segment(second.read_text().splitlines(keepends=True)).first == count + 1
    later = tmp_path / "later.txt"
    assert centre("take", str(second), "--key", str(key), "--receipt", str(later)).code == 0
    assert read(site, later).code == 0, "the key is kept"
    third = tmp_path / "third.jsonl"
    assert "nothing is new" in site(f"hand-over {third}").out
    assert centre("take", str(third), "--key", str(key)).code == 0
    every = tmp_path / "every.jsonl"
    assert site(f"hand-over {every} --everything").code == 0
    assert read_segment(every.read_text().splitlines(keepends=True)).first == 1
    assert f"The group's centre holds entries 1 to {count + 1}" in " ".join(
        site("board").out.split()
    )
    assert site("board --json").json["acknowledged"]["entries"] == count + 1


def test_the_first_receipt_needs_the_key_and_another_centres_is_not_believed(
    site: Clinic, centre: Centre, note: Path, public: str, tmp_path: Path
) -> None:
    assert (read(site, note).code, kept(site.ledger)) == (2, None)
    other = centre("key", "--key", str(tmp_path / "other.key")).out.strip()
    refused = read(site, note, "--centre", other)
    assert (refused.code, "not signed by that centre" in refused.err) == (2, True)
    note.write_text(note.read_text().replace(site.uuid, site.uuid[::-1]))
    assert read(site, note, "--centre", public).code == 2
    assert kept(site.ledger) is None


def test_a_receipt_of_another_ledger_or_an_older_one_is_refused(
    site: Clinic, group: list[Clinic], note: Path, public: str, key: Path, tmp_path: Path
) -> None:
    told = read(group[1], note, "--centre", public)
    assert (told.code, "of another ledger" in told.err) == (2, True)
    assert read(site, note, "--centre", public).code == 0
    last = kept(site.ledger)
    assert last is not None
    at = last.receipt.at - timedelta(seconds=1)
    old = Receipt(site.uuid, last.receipt.entries, last.receipt.head, at)
    told = read(site, signed(key, tmp_path / "old", old))
    assert (told.code, "older" in told.err) == (2, True)


def test_a_site_notices_that_the_centre_lost_or_changed_entries(
    site: Clinic, note: Path, public: str, key: Path, tmp_path: Path
) -> None:
    assert read(site, note, "--centre", public).code == 0
    last = kept(site.ledger)
    assert last is not None
    hashes = [row["hash"] for row in map(json.loads, site.segment().read_text().splitlines()[1:-1])]
    assert hashes == []
    every = tmp_path / "every.jsonl"
    assert site(f"hand-over {every} --everything").code == 0
    rows = [json.loads(line) for line in every.read_text().splitlines()[1:-1]]
    count, at = last.receipt.entries, NOW + timedelta(days=1)
    lies = {
        "had acknowledged": Receipt(site.uuid, count - 1, rows[-2]["hash"], at),
        "is not entry": Receipt(site.uuid, count, rows[-2]["hash"], at),
        "more than this ledger": Receipt(site.uuid, count + 1, rows[-1]["hash"], at),
    }
    for number, (words, lie) in enumerate(lies.items()):
        told = read(site, signed(key, tmp_path / f"lie{number}", lie))
        assert (told.code, words in told.err) == (4, True), told
    assert kept(site.ledger) == last, "a lie changes nothing"


def test_after_a_ledger_was_exchanged_everything_is_handed_over_to_be_compared(
    site: Clinic, group: list[Clinic], note: Path, public: str, tmp_path: Path
) -> None:
    assert read(site, note, "--centre", public).code == 0
    beside = site.ledger.with_name(f"{site.ledger.name}.receipt")
    other = group[1]
    beside.rename(other.ledger.with_name(f"{other.ledger.name}.receipt"))
    path = tmp_path / "other.jsonl"
    assert other(f"hand-over {path}").code == 0
    assert read_segment(path.read_text().splitlines(keepends=True)).first == 1


@pytest.mark.parametrize("content", ["", "x", "a\n\n— b c\n", "\ufeff", "n\n" * 4000])
def test_what_is_no_receipt_is_refused_in_a_sentence(
    site: Clinic, public: str, tmp_path: Path, content: str
) -> None:
    path = tmp_path / "note"
    path.write_text(content)
    for file in (path, tmp_path, tmp_path / "nowhere"):
        told = read(site, file, "--centre", public)
        assert (told.code, told.out) == (2, "")
        assert told.err.count("\n") == 1
    for more in ("", f"{tmp_path}/s.jsonl --receipt {path}"):
        assert site(f"hand-over {more}").code == 2


@pytest.mark.parametrize("content", ["", "[]", "{}", '{"centre": 1, "receipt": "x"}', "[" * 9000])
def test_whatever_lies_beside_the_ledger_only_makes_everything_be_handed_over(
    site: Clinic, tmp_path: Path, content: str
) -> None:
    site.ledger.with_name(f"{site.ledger.name}.receipt").write_text(content)
    path = tmp_path / "s.jsonl"
    assert site(f"hand-over {path}").code == 0
    assert read_segment(path.read_text().splitlines(keepends=True)).first == 1
