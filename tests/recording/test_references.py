"""References of patients stand beside the chain: what the chain holds proves them, tells none."""

import hashlib
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.entries.case import Case
from logbook.ledger.store import Draft, already_recorded, new_id
from logbook.proof.verify import verify
from logbook.recording.importing.taking_over import Identities
from logbook.recording.opening import writing
from logbook.recording.record import record
from logbook.recording.references import set_apart
from tests.conftest import NOW, Ran

LOGGED = ["case", "log", "bay1", "--began", "2026-03-02T08:10", "--ran", "1h", "--reference"]
END = "2026-03-02T16:10:00Z"
BEGAN = datetime(2026, 3, 2, 15, 10, tzinfo=UTC)
CSV = "machine,began,ran,reference,by\nbay1,2026-03-02 08:10,1h,A-17,KO\n"


@pytest.fixture
def case(bay1: Callable[..., Ran]) -> str:
    """The number of a case of patient A-17."""
    told = bay1(*LOGGED, "A-17")
    assert told.saved, told.err
    return told.out.split("Saved entry ")[1].split(":")[0]


def rows(ledger: Path, query: str) -> list[tuple[str, ...]]:
    with closing(sqlite3.connect(ledger)) as raw:
        return raw.execute(query).fetchall()


def kept(ledger: Path) -> list[str]:
    return [told for (told,) in rows(ledger, "SELECT reference FROM reference ORDER BY 1")]


def change(ledger: Path, statement: str, *values: str) -> None:
    with closing(sqlite3.connect(ledger)) as raw, raw:
        raw.execute(statement, values)


def findings(ledger: Path) -> list[str]:
    return [f"{one.check}: {one.sentence}" for one in verify(ledger).findings]


@given(st.text(min_size=1).filter(str.strip))
def test_the_digest_is_the_sha_256_of_salt_and_reference_and_nothing_else_is_told(
    told: str,
) -> None:
    body = Case.model_construct(machine="bay1", ended_at=NOW, reference=told)
    stands, apart = set_apart(body)
    assert apart is not None
    expected = hashlib.sha256(f"{apart.salt}{told}".encode("utf-8", "surrogatepass")).hexdigest()
    assert (stands.reference, stands.reference_digest) == (None, expected)


def test_two_cases_of_one_patient_cannot_be_told_by_their_digests() -> None:
    body = Case.of(machine="bay1", ended_at=END, reference="A-17")
    assert set_apart(body)[1] != set_apart(body)[1]


def test_no_entry_holds_a_reference_and_the_list_of_cases_shows_it(
    bay1: Callable[..., Ran], ledger: Path, case: str
) -> None:
    assert not rows(ledger, "SELECT seq FROM entry WHERE body LIKE '%A-17%'")
    assert kept(ledger) == ["A-17"]
    assert bay1("case", "list", "--json").json["cases"][0]["reference"] == "A-17"
    told = bay1("reference", "show", case, "--json").json["case"]
    salt, digest = told["salt"], told["digest"]
    assert {salt, digest} <= set(bay1("reference", "show", case).out.split())
    assert hashlib.sha256(f"{salt}A-17".encode()).hexdigest() == digest
    assert digest in rows(ledger, "SELECT body FROM entry ORDER BY seq DESC LIMIT 1")[0][0]
    assert not findings(ledger)


def test_an_erased_reference_is_gone_from_the_file_and_a_note_says_who_did_it(
    bay1: Callable[..., Ran], ledger: Path, case: str
) -> None:
    assert b"A-17" in ledger.read_bytes()
    erased = bay1("reference", "erase", case, "--because", "asked for")
    assert f"reference of case {case} erased: asked for" in " ".join(erased.out.split())
    assert b"A-17" not in ledger.read_bytes()
    assert bay1("case", "list", "--json").json["cases"][0]["reference"] is None
    told = bay1("reference", "show", case, "--json").json["case"]
    assert (told["held"], told["reference"], told["salt"]) == ("erased", None, None)
    assert not findings(ledger)
    again = bay1("reference", "erase", case, "--because", "asked for")
    assert (again.code, "was erased before" in again.err) == (2, True)


def test_a_correction_keeps_the_reference_or_gives_another_and_all_of_them_are_erased(
    bay1: Callable[..., Ran], ledger: Path, case: str
) -> None:
    assert bay1("correct", case, "--weight", "20kg", "--because", "misread").saved
    assert kept(ledger) == ["A-17"]
    assert bay1("correct", case, "--set", "reference=B-18", "--because", "misread").saved
    assert kept(ledger) == ["A-17", "B-18"]
    assert bay1("case", "list", "--json").json["cases"][0]["reference"] == "B-18"
    assert "kept apart" in bay1("correct", case).out
    assert not rows(ledger, "SELECT seq FROM entry WHERE body LIKE '%B-18%'")
    assert not findings(ledger)
    assert bay1("correct", case, "--set", "reference=", "--because", "none").saved
    assert "tells of no reference" in bay1("reference", "show", case).err
    assert bay1("reference", "erase", case, "--because", "asked for").saved
    assert kept(ledger) == []


def test_a_case_without_a_reference_has_none_to_show_or_to_erase(
    bay1: Callable[..., Ran],
) -> None:
    assert bay1("case", "log", "bay1", "--began", "8:10", "--ran", "1h").saved
    for act in (("show",), ("erase", "--because", "asked")):
        told = bay1("reference", act[0], "5", *act[1:])
        assert told.code == 2
        assert ("tells of no reference" in told.err) or ("not a case" in told.err), told.err


def test_an_entry_of_the_first_version_keeps_its_reference_and_says_so(
    bay1: Callable[..., Ran], ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.recording.record.set_apart", lambda body: (body, None))
    case = bay1(*LOGGED, "A-17").out.split("Saved entry ")[1].split(":")[0]
    monkeypatch.undo()
    with writing(ledger) as book:
        assert not rows(ledger, "SELECT 1 FROM reference")
        assert book.zone
    monkeypatch.setenv("LOGBOOK_LEDGER", str(ledger))
    told = bay1("reference", "show", case)
    assert "A-17" in told.out
    assert "never be erased" in " ".join(told.out.split())
    refused = bay1("reference", "erase", case, "--because", "asked", "--by", "KO")
    assert (refused.code, "holds its reference in the chain" in refused.err) == (2, True)


def test_verify_sees_a_reference_that_was_changed_or_put_in(
    bay1: Callable[..., Ran], ledger: Path, case: str
) -> None:
    assert bay1("verify").code == 0
    change(ledger, "UPDATE reference SET reference = 'C-19'")
    assert any("a reference was changed" in one for one in findings(ledger))
    change(ledger, "UPDATE reference SET reference = 'A-17'")
    assert not findings(ledger)
    digest = hashlib.sha256(b"sX").hexdigest()
    change(ledger, "INSERT INTO reference VALUES (?, 's', 'X')", digest)
    assert any("no entry holds the digest" in one for one in findings(ledger))
    assert case


def test_the_same_again_is_the_same_entry_though_its_salt_differs(
    bay1: Callable[..., Ran], ledger: Path
) -> None:
    draft = Draft(Case.of(machine="bay1", ended_at=END, reference="A-17"), BEGAN, "KO", new_id())
    other = Case.of(machine="bay1", ended_at=END, reference="A-18")
    with writing(ledger) as book:
        first = record(book, draft, NOW)
        assert record(book, draft, NOW).again
        with pytest.raises(Exception, match="belongs to another entry"):
            record(book, Draft(other, BEGAN, "KO", draft.id), NOW)
    assert kept(ledger) == ["A-17"]
    assert bay1("reference", "erase", str(first.entry.seq), "--because", "asked").saved
    with writing(ledger) as book:
        assert record(book, draft, NOW).again


def test_the_identity_of_an_imported_row_tells_nothing_of_its_reference(
    bay1: Callable[..., Ran], ledger: Path
) -> None:
    one, other = (Case.of(machine="bay1", ended_at=END, reference=told) for told in ("A", "B"))
    with writing(ledger) as book:
        first, second = (Identities(book.connection).of(told, NOW) for told in (one, other))
    assert first == second
    assert bay1("board").saved


def test_a_row_that_an_earlier_program_imported_with_its_reference_is_known_again(
    bay1: Callable[..., Ran], ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "cases.csv"
    file.write_text(CSV)
    with monkeypatch.context() as earlier:
        earlier.setattr(Identities, "of", Identities._of)
        earlier.setattr("logbook.recording.record.set_apart", lambda body: (body, None))
        assert "1 " in bay1("import", "cases", str(file)).out
    before = rows(ledger, "SELECT count(*) FROM entry")
    assert bay1("import", "cases", str(file)).saved
    assert rows(ledger, "SELECT count(*) FROM entry") == before
    with writing(ledger) as book:
        [(known,)] = rows(ledger, "SELECT id FROM entry ORDER BY seq DESC LIMIT 1")
        assert already_recorded(book.connection, known)


def test_references_in_entries_of_old_leave_only_where_somebody_says_so(
    bay1: Callable[..., Ran], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert bay1(*LOGGED, "B-18").saved
    first, second, third = (str(tmp_path / f"{name}.jsonl") for name in "abc")
    assert bay1("hand-over", first).code == 0, "a new case holds none"
    with monkeypatch.context() as earlier:
        earlier.setattr("logbook.recording.record.set_apart", lambda body: (body, None))
        old = bay1(*LOGGED[:4], "2026-03-03T08:10", *LOGGED[5:], "A-17")
        assert old.saved, old.err
    refused = bay1("hand-over", second)
    assert (refused.code, Path(second).exists()) == (2, False)
    assert "1 entry holds a patient's reference" in refused.err
    assert bay1("hand-over", second, "--with-references").code == 0
    assert "A-17" in Path(second).read_text()
    monkeypatch.setattr("logbook.cli.desk.has_terminal", lambda: True)
    assert bay1("hand-over", third, stdin="n\n").code == 2
    assert not Path(third).exists()
    assert bay1("hand-over", third, stdin="y\n").code == 0
    for path in (first, second, third):
        assert "B-18" not in Path(path).read_text()
