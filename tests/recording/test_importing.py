"""Taking over a paper log: what rows mean, what is refused, and that nothing is doubled."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from logbook.errors import Act, InputError
from logbook.ledger.store import Draft, new_id, stored_rows
from logbook.recording.importing import (
    CASES,
    CHANGES,
    MOST_REFUSED,
    SERVICES,
    Sheet,
    TakenOver,
    read_rows,
    take_over,
)
from logbook.recording.opening import reading, writing
from logbook.recording.record import record
from tests.conftest import NOW, Ran

Import = Callable[..., TakenOver]


@pytest.fixture
def take(bay1: Callable[..., Ran], ledger: Path, tmp_path: Path) -> Import:
    """Imports CSV text into the ledger of a clinic with bay1 and iso1."""

    def imported(sheet: Sheet, text: str, by: str | None = "KO", **more: Any) -> TakenOver:
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode())
        rows = read_rows(path, sheet)
        with writing(ledger) as book:
            return take_over(book, sheet, rows, by=by, now=NOW, **more)

    return imported


def kinds(ledger: Path) -> list[str]:
    with reading(ledger) as book:
        return [row.kind for row in stored_rows(book.connection)]


def refused_file(tmp_path: Path, sheet: Sheet, content: bytes) -> str:
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_rows(path, sheet)
    return str(caught.value)


def test_a_case_row_says_what_the_paper_said(take: Import) -> None:
    done = take(
        CASES,
        "machine,began,ran,circuit,weight,species,vaporizer,flow,dial,reference,by\n"
        "bay1,2026-03-02 08:10,1h35,pediatric,4.5kg,cat,iso1,1L/min,2,A-17,KO\n",
        by=None,
    )
    [entry] = done.new
    assert entry.happened_at == datetime(2026, 3, 2, 15, 10, tzinfo=UTC)
    assert entry.by == "KO"
    assert entry.body.model_dump(mode="json", exclude_none=True) == {
        "machine": "bay1",
        "ended_at": "2026-03-02T16:45:00Z",
        "circuit": "pediatric rebreathing",
        "weight_g": "4500",
        "species": "cat",
        "vaporizer": "iso1",
        "segments": [{"flow_ml_min": "1000", "dial_percent": "2"}],
        "reference": "A-17",
    }


def test_columns_may_stand_in_any_order_and_empty_cells_say_nothing(take: Import) -> None:
    text = "Weight, ended ,Machine,BEGAN,dial\n,2026-03-02 09:45,bay1,2026-03-02 08:10,\n"
    [entry] = take(CASES, text).new
    assert entry.body.canonical() == (
        '{"circuit":"unknown","ended_at":"2026-03-02T16:45:00Z","machine":"bay1","segments":[]}'
    )


def test_an_end_without_a_date_is_of_the_day_of_the_begin(take: Import) -> None:
    [entry] = take(CASES, "machine,began,ended\nbay1,2026-03-02 08:10,9:45\n").new
    assert entry.body.ended_at == datetime(2026, 3, 2, 16, 45, tzinfo=UTC)
    late = take(CASES, "machine,began,ended\nbay1,2026-03-03 23:10,0:45\n")
    assert late.new == []
    assert "is not after the begin" in str(late.refused[0].error)


def test_a_byte_order_mark_and_windows_line_ends_are_no_part_of_the_text(take: Import) -> None:
    done = take(CASES, "\ufeffmachine,began,ran\r\nbay1,2026-03-02 08:10,1h\r\n")
    assert (len(done.new), done.refused) == (1, [])


def test_changes_take_each_their_own_columns(take: Import) -> None:
    done = take(
        CHANGES,
        "machine,at,what,mass,lot,expiry,old,size,gauge,reason\n"
        "bay1,2026-03-02 07:30,absorbent,1200g,L1,2027-06-30,hard,,,hours\n"
        "bay1,2026-03-02 07:31,charcoal,780g,,,,,,\n"
        "bay1,2026-03-02 07:32,cylinder,,,,,E,2000psi,\n",
    )
    absorbent, charcoal, cylinder = (entry.body for entry in done.new)
    assert (absorbent.mass_g, absorbent.expiry, absorbent.old_granules, absorbent.reason) == (
        Decimal(1200),
        date(2027, 6, 30),
        "hard",
        "hours",
    )
    assert (charcoal.kind, charcoal.weight_g) == ("charcoal_change", Decimal(780))
    assert (cylinder.kind, cylinder.size, cylinder.cylinder_psi) == (
        "cylinder_change",
        "E",
        Decimal(2000),
    )


def test_a_change_told_by_its_day_counts_from_midnight(take: Import) -> None:
    [entry] = take(CHANGES, "machine,at,what\nbay1,2026-03-02,absorbent\n").new
    assert entry.happened_at == datetime(2026, 3, 2, 7, 0, tzinfo=UTC)


def test_a_service_row_says_who_did_it(take: Import) -> None:
    [entry] = take(
        SERVICES,
        "unit,item,at,outcome,done_by,certificate\n"
        "iso1,output verification,2026-02-03,passed,field engineer,C-7\n",
    ).new
    body = entry.body
    assert (body.unit, body.item, body.outcome, body.done_by, body.certificate) == (
        "iso1",
        "output verification",
        "passed",
        "field engineer",
        "C-7",
    )


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("bay1,2026-03-02 08:10,1h,24,,KO", "weight 24 is not a weight: it needs its unit"),
        ("bay9,2026-03-02 08:10,1h,,,KO", "there is no machine bay9; known are bay1"),
        (",2026-03-02 08:10,1h,,,KO", "the cell machine is empty"),
        ("bay1,,1h,,,KO", "the cell began is empty"),
        ("bay1,8:10,1h,,,KO", "began 8:10 does not begin with a date"),
        ("bay1,yesterday 8:10,1h,,,KO", "does not begin with a date"),
        ("bay1,3/2/2026 8:10,1h,,,KO", "does not begin with a date"),
        ("bay1,2026-03-02,1h,,,KO", "is a day without a time"),
        ("bay1,2026-03-08 02:30,1h,,,KO", "does not exist in America/Denver"),
        ("bay1,2026-03-02 08:10,,,,KO", "either ended or ran"),
        ("bay1,2026-03-02 08:10,1h,,spiral,KO", "circuit spiral is not known; write adult"),
        ("bay1,2026-03-02 08:10,1h,,,ZZ", "nobody here signs as ZZ"),
        ("bay1,2026-03-07 08:10,1h,,,KO", "lies in the future"),
        ("bay1,2026-03-02 08:10,25h,,,KO", "give at most 24 h"),
        ("bay1,2026-03-02 08:10,1h,,KO", "it has 5 cells where the header has 6"),
        ("bay1,2026-03-02 08:10,1h,,,KO,x", "it has 7 cells where the header has 6"),
    ],
)
def test_a_bad_case_row_is_refused_in_one_sentence(
    take: Import, ledger: Path, row: str, sentence: str
) -> None:
    before = ledger.read_bytes()
    done = take(CASES, f"machine,began,ran,weight,circuit,by\n{row}\n")
    assert done.new == []
    [refused] = done.refused
    assert refused.number == 2
    assert sentence in str(refused.error)
    assert ledger.read_bytes() == before


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("bay1,2026-03-02 07:30,filter,,", "what filter is not known; write absorbent or charcoal"),
        ("bay1,2026-03-02 07:30,charcoal,780g,L1", "lot says nothing about charcoal"),
        ("bay1,2026-03-02 07:30,absorbent,0g,", "the mass is 0 g, but must lie between"),
    ],
)
def test_a_bad_change_row_is_refused_in_one_sentence(take: Import, row: str, sentence: str) -> None:
    done = take(CHANGES, f"machine,at,what,mass,lot\n{row}\n")
    assert sentence in str(done.refused[0].error)


def test_a_row_that_nobody_signs_is_refused(take: Import) -> None:
    done = take(CASES, "machine,began,ran,by\nbay1,2026-03-02 08:10,1h,\n", by=None)
    [(number, error)] = done.refused
    assert (number, error.wrong, error.act) == (2, "nobody signs it", Act.SIGN)


def test_bad_rows_are_told_by_their_number_in_a_spreadsheet_and_no_row_is_saved(
    take: Import, ledger: Path
) -> None:
    before = kinds(ledger)
    done = take(
        CASES,
        "machine,began,ran,species\n"
        'bay1,2026-03-02 08:10,1h,"cat\nwith two lines"\n'
        ",,,\n"
        "bay9,2026-03-02 10:10,1h,\n"
        "bay1,2026-03-02 12:10,1,\n",
    )
    assert [row.number for row in done.refused] == [4, 5]
    assert kinds(ledger) == before


def test_no_more_than_twenty_bad_rows_are_told(take: Import) -> None:
    rows = "".join(f"bay9,2026-03-02 {hour:02}:10,1h\n" for hour in range(24))
    done = take(CASES, f"machine,began,ran\n{rows}")
    assert len(done.refused) == MOST_REFUSED == 20


def test_overlapping_rows_of_one_file_are_refused(take: Import) -> None:
    text = "machine,began,ran\nbay1,2026-03-02 08:10,1h\nbay1,2026-03-02 08:40,1h\n"
    [refused] = take(CASES, text).refused
    assert (refused.number, str(refused.error)[:5]) == (3, "case ")


def test_a_dry_run_saves_nothing_and_says_what_would_be_saved(take: Import, ledger: Path) -> None:
    before = ledger.read_bytes()
    done = take(CASES, "machine,began,ran\nbay1,2026-03-02 08:10,1h\n", dry_run=True)
    assert (len(done.new), done.again, done.refused) == (1, 0, [])
    assert ledger.read_bytes() == before


def test_a_second_import_doubles_nothing_whoever_signs_it_and_however_it_is_written(
    take: Import, ledger: Path
) -> None:
    text = "machine,at,what,mass,by\nbay1,2026-03-02 07:30,absorbent,1.2kg,\n"
    assert len(take(CHANGES, text).new) == 1
    with writing(ledger) as book:
        from logbook.entries.clinic import Staff

        record(book, Draft(Staff(initials="RT"), NOW, "", new_id()), NOW)
    before = kinds(ledger)
    again = "what,mass,at,by,machine\nabsorbent,1200 g,2026-03-02 7:30,RT,bay1\n"
    done = take(CHANGES, again)
    assert (done.new, done.again) == ([], 1)
    assert kinds(ledger) == before


def test_rows_added_to_an_imported_file_are_the_only_new_ones(take: Import) -> None:
    first = "machine,at,what\nbay1,2026-03-02 07:30,cylinder\n"
    take(CHANGES, first)
    done = take(CHANGES, first + "bay1,2026-03-03 07:30,cylinder\n")
    assert (len(done.new), done.again) == (1, 1)


def test_rows_that_say_the_same_are_kept_as_often_as_the_file_holds_them(take: Import) -> None:
    twice = "machine,at,what\n" + "bay1,2026-03-02,cylinder\n" * 2
    assert len(take(CHANGES, twice).new) == 2
    assert take(CHANGES, twice).again == 2
    third = take(CHANGES, twice + "bay1,2026-03-02,cylinder\n")
    assert (len(third.new), third.again) == (1, 2)


def test_rows_out_of_order_give_the_same_answer(
    take: Import, bay1: Callable[..., Ran], ledger: Path
) -> None:
    take(CHANGES, "machine,at,what\nbay1,2026-03-02 07:30,absorbent\n")
    text = "bay1,2026-03-04 08:10,1h\nbay1,2026-03-02 08:10,1h35\nbay1,2026-03-03 08:10,2h\n"
    assert len(take(CASES, f"machine,began,ran\n{text}").new) == 3
    items = bay1("due", "--as-of", "2026-03-06", "--json").json["items"]
    assert [item["used"] for item in items if item["clock"] == "hours in use"] == ["4.58"]


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "holds no row below a header"),
        (b"machine,began,ran\n", "holds no row below a header"),
        (b"machine,began,ran\n,,\n\n", "holds no row below a header"),
        (b"machine,began,colour\n", "names the column colour, which is not known"),
        (b"machine,began,\n", "names the column (empty), which is not known"),
        (b"machine,began,ran,Ran\n", "names the column ran twice"),
        (b"began,ran\n", "lacks the column machine"),
        (b"machine;began;ran\n", "names the column machine;began;ran, which is not known"),
        (b"machine,began,ran\nbay1,2026-03-02 08:10,1h\xb5\n", "is not UTF-8 text"),
        (b'machine,began,ran\nbay1,"2026-03-02 08:10,1h\n', "row 2 of log.csv is not CSV text"),
    ],
)
def test_a_file_that_does_not_fit_is_refused_before_any_row(
    tmp_path: Path, content: bytes, sentence: str
) -> None:
    assert sentence in refused_file(tmp_path, CASES, content)
