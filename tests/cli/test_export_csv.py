"""Tables for other programs, read back by the standard library's own reader."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran

Command = Callable[..., Ran]


def table(run: Command, place: Path, *words: str) -> list[dict[str, str]]:
    ran = run("export", "csv", *words, "--out", str(place))
    assert ran.saved, ran.err
    text = place.read_bytes().decode("utf-8")
    rows = list(csv.DictReader(text.splitlines(keepends=True)))
    place.unlink()
    return rows


def test_what_is_due_is_the_same_table(bay1: Command, tmp_path: Path) -> None:
    items = bay1("due", "--json").json["items"]
    rows = table(bay1, tmp_path / "due.csv", "due")
    assert [(row["unit"], row["item"], row["standing"]) for row in rows] == [
        (one["unit"], one["item"], one["standing"]) for one in items
    ]
    assert rows


def test_an_audit_is_the_same_table(bay1: Command, tmp_path: Path) -> None:
    assert bay1("case", "log", "bay1", "--began", "8:10", "--ran", "1h35").saved
    found = bay1("audit", "--from", "2026-03-06", "--json").json["findings"]
    rows = table(bay1, tmp_path / "audit.csv", "audit", "--from", "2026-03-06")
    assert [row["words"] for row in rows] == [one["words"] for one in found]
    assert rows[0]["entries"] == " ".join(map(str, found[0]["entries"]))


def test_entries_of_a_kind_stand_as_written_with_what_corrected_them(
    bay1: Command, tmp_path: Path
) -> None:
    assert bay1("note", "caster squeaks", "--at", "9:00").saved
    assert bay1("note", "slip", "--at", "10:00").saved
    last = int(bay1("checkpoint", "--json").json["checkpoint"]["entries"])
    assert bay1("correct", str(last), "--withdraw", "--because", "slip").saved
    rows = table(bay1, tmp_path / "notes.csv", "note")
    assert [(row["text"], row["corrected_by"]) for row in rows] == [
        ("caster squeaks", ""), ("slip", str(last + 1))
    ]  # fmt: skip
    early = table(bay1, tmp_path / "notes.csv", "note", "--as-of", "2026-03-06 09:30")
    assert [row["text"] for row in early] == ["caster squeaks"]


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "@SUM(A1)", "-2+3"])
def test_a_cell_that_would_be_run_has_a_quote_before_it(
    bay1: Command, tmp_path: Path, text: str
) -> None:
    assert bay1("note", "--", text).saved
    assert table(bay1, tmp_path / "notes.csv", "note")[0]["text"] == f"'{text}"
    assert table(bay1, tmp_path / "notes.csv", "note", "--plain")[0]["text"] == text


def test_a_number_below_zero_stays_one(bay1: Command) -> None:
    from logbook.sheets.as_csv import as_csv

    assert as_csv([{"a": "-2.5", "b": "-x", "c": "-"}]) == "a,b,c\r\n-2.5,'-x,'-\r\n"


def test_the_days_are_those_of_an_audit_alone(bay1: Command, tmp_path: Path) -> None:
    for words in (("due", "--from", "2026-03-06"), ("audit",), ("note", "--to", "2026-03-06")):
        ran = bay1("export", "csv", *words, "--out", str(tmp_path / "x.csv"))
        assert ran.code == 2
        assert "the days of an audit" in ran.err
    assert list(tmp_path.glob("*.csv")) == []
