"""Taking over a paper log: what rows mean, what is refused, and that nothing is doubled."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from logbook.errors import Act, InputError
from logbook.ledger.store import Draft, new_id, stored_rows
from logbook.recording.importing.files import Told, laid_on, read_table
from logbook.recording.importing.sheets import SHEETS, Sheet
from logbook.recording.importing.taking_over import TakenOver, take_over
from logbook.recording.opening import reading, writing
from logbook.recording.record import record
from logbook.times import utc_text
from tests.conftest import NOW, Ran

Import = Callable[..., TakenOver]
CASES, CHANGES, SERVICES = (SHEETS[name] for name in ("cases", "changes", "services"))


@pytest.fixture
def take(bay1: Callable[..., Ran], ledger: Path, tmp_path: Path) -> Import:
    """Imports CSV text into the ledger of a clinic with bay1 and iso1."""

    def imported(
        sheet: Sheet, text: str, by: str | None = "KO", told: Told | None = None,
        encoding: str = "utf-8", **more: Any,
    ) -> TakenOver:  # fmt: skip
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode(encoding))
        read = laid_on(read_table(path), list(sheet.columns), sheet.needed, told or Told())
        with writing(ledger) as book:
            return take_over(book, sheet, read, read.rows, by=by, now=NOW, **more)

    return imported


def kinds(ledger: Path) -> list[str]:
    with reading(ledger) as book:
        return [row.kind for row in stored_rows(book.connection)]


def refused_file(tmp_path: Path, sheet: Sheet, content: bytes) -> str:
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        laid_on(read_table(path), list(sheet.columns), sheet.needed, Told())
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
        "reference_digest": entry.body.reference_digest,
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
        "bay1,2026-03-02 07:32,cylinder,,,,,E,2000psi,\n"
        "bay1,2026-03-02 07:33,cylinder,,,,,4.7 l,137bar,\n",
    )
    absorbent, charcoal, cylinder, stamped = (entry.body for entry in done.new)
    assert (stamped.size, stamped.water_l) == (None, Decimal("4.7"))
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
        ("bay1,3/2/2026 8:10,1h,,,KO", "write 2026-02-03 or 2026-03-02"),
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
    [(number, error, _)] = done.refused
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


def test_like_faults_of_all_rows_are_told_together(take: Import) -> None:
    rows = "".join(f"bay9,2026-03-02 {hour:02}:10,1h,{hour + 1}\n" for hour in range(24))
    done = take(CASES, f"machine,began,ran,weight\n{rows}bay1,8:10,1,24kg\n")
    told = [(str(fault.error)[:28], fault.rows) for fault in done.faults()]
    every = list(range(2, 26))
    assert told == [
        ("weight 1 is not a weight: it", every),
        ("began 8:10 does not begin wi", [26]),
        ("ran 1 needs its unit; write ", [26]),
    ]
    rows = "".join(f"bay{n},2026-03-02 0{n}:10,1h\n" for n in (8, 9, 9))
    only = take(CASES, f"machine,began,ran\n{rows}")
    assert [(str(one.error), len(one.rows)) for one in only.faults()] == [
        ("there is no machine bay9; known are bay1", 2),
        ("there is no machine bay8; known are bay1", 1),
    ]


def test_overlapping_rows_of_one_file_are_refused(take: Import) -> None:
    text = "machine,began,ran\nbay1,2026-03-02 08:10,1h\nbay1,2026-03-02 08:40,1h\n"
    [refused] = take(CASES, text).refused
    assert refused.number == 3
    assert str(refused.error).startswith("the case of row 2 ran on bay1 then")


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
        (b"machine,began,colour\na,b,c\n", "names the column colour, which is not known"),
        (b"machine,began,\na,b,c\n", "names the column (empty), which is not known"),
        (b"machine,began,ran,Ran\na,b,c,d\n", "names the column ran twice"),
        (b"began,ran\na,b\n", "lacks the column machine; it has began, ran"),
        (b"room;day\na;b\n", "names the column room, day, which is not known"),
        (
            b"machine,began,ran\nbay1,2026-03-02 08:10,1h\x81\n",
            "is no text; save it as CSV in UTF-8",
        ),
        (b"\xff\xfeb", "is no text"),
        (b"PK\x03\x04 and more", "own file; open it there and save it as CSV in UTF-8"),
        (b"\xd0\xcf\x11\xe0 and more", "own file"),
        (b"%PDF-1.7", "own file"),
        (b'machine,began,ran\nbay1,"2026-03-02 08:10,1h\n', "row 2 of log.csv is not CSV text"),
    ],
)
def test_a_file_that_does_not_fit_is_refused_before_any_row(
    tmp_path: Path, content: bytes, sentence: str
) -> None:
    assert sentence in refused_file(tmp_path, CASES, content)


ANY_LETTERS = "machine,began,ran,species\nbay1,2026-03-02 08:10,1h,Señor\n"


@pytest.mark.parametrize(
    ("encoding", "letters"),
    [
        ("utf-8", None),
        ("utf-8-sig", None),
        ("utf-16", "UTF-16"),
        ("utf-16-le", "UTF-16"),
        ("utf-16-be", "UTF-16"),
        ("cp1252", "Windows-1252"),
    ],
)
def test_letters_are_read_as_spreadsheets_write_them(
    take: Import, tmp_path: Path, encoding: str, letters: str | None
) -> None:
    [entry] = take(CASES, ANY_LETTERS, encoding=encoding).new
    assert entry.body.species == "Señor"
    assert read_table(tmp_path / "log.csv").letters == letters


def test_a_title_above_the_header_is_no_header(take: Import, tmp_path: Path) -> None:
    text = "Anesthesia log of 2026; all rooms;;\n"
    done = take(CASES, f"Log, 2026,,\n,,,\n{ANY_LETTERS}".replace("Log, 2026,,", "Log 2026,,,"))
    assert len(done.new) == 1
    assert read_table(tmp_path / "log.csv").heading == "row 3 of log.csv"
    titled = text.replace("; all rooms", "") + ANY_LETTERS.replace(",", ";")
    assert take(CASES, titled).again == 1


def test_a_separator_that_the_file_tells_is_no_row(take: Import, tmp_path: Path) -> None:
    text = "sep=;\r\n" + ANY_LETTERS.replace(",", ";").replace("Señor", "a, b, c, d, e, f")
    assert take(CASES, text).new[0].body.species == "a, b, c, d, e, f"
    assert read_table(tmp_path / "log.csv").header_at == 1


@pytest.mark.parametrize(
    ("began", "ran", "utc", "ran_s"),
    [
        ("2-Mar-26 8:10", "1:35:00", "2026-03-02T15:10:00Z", 5700),
        ('"Mar 2, 2026 8:10 AM"', "95", "2026-03-02T15:10:00Z", 5700),
        ('"Monday, March 2, 2026 20:10"', "0:35:30", "2026-03-03T03:10:00Z", 2130),
        ("2. Mar. 2026 08:10", "1:35", "2026-03-02T15:10:00Z", 5700),
        ("3/2/26 8:10:00 PM", "1h35", "2026-03-03T03:10:00Z", 5700),
    ],
)
def test_times_are_read_as_spreadsheets_show_them(
    take: Import, began: str, ran: str, utc: str, ran_s: int
) -> None:
    told = Told(units={"ran": "min"}, date_order="month/day")
    [entry] = take(CASES, f"machine,began,ran\nbay1,{began},{ran}\n", told=told).new
    assert utc_text(entry.happened_at) == utc
    assert (entry.body.ended_at - entry.happened_at).total_seconds() == ran_s


@pytest.mark.parametrize(
    "began", ["2-Xyz-26 8:10", "32-Mar-26 8:10", "March 8:10", "30-Feb-2026 8:10", "Mar 2 8:10"]
)
def test_a_month_by_name_that_is_no_date_is_refused(take: Import, began: str) -> None:
    done = take(CASES, f"machine,began,ran\nbay1,{began},1h\n")
    assert (done.new, len(done.refused)) == ([], 1)
    assert "began" in str(done.refused[0].error)


def settings_of(done: TakenOver) -> list[tuple[Any, ...]]:
    return [
        (body.weight_g, *((part.flow_ml_min, part.dial_percent) for part in body.segments))
        for body in (entry.body for entry in done.new)
    ]


def test_semicolons_and_a_comma_before_decimals_are_found(take: Import) -> None:
    text = (
        (
            "machine;began;ran;weight;flow;dial;size\n"
            "bay1;02.03.2026 08:10;1h;4,5kg;0,5L/min;1,5;\n"
            "bay1;02.03.2026 10:10;1h;1.024,5g;1L/min;2;\n"
        )
        .replace(";size", "")
        .replace(";\n", "\n")
    )
    done = take(CASES, text)
    assert done.refused == []
    assert settings_of(done) == [
        (Decimal(4500), (Decimal(500), Decimal("1.5"))),
        (Decimal("1024.5"), (Decimal(1000), Decimal(2))),
    ]
    assert done.new[0].happened_at == datetime(2026, 3, 2, 15, 10, tzinfo=UTC)
    tabs = text.replace(";", "\t")
    assert take(CASES, tabs).again == 2


def test_a_point_in_a_file_of_commas_is_asked_about(take: Import) -> None:
    text = "machine;at;what;gauge\nbay1;2026-03-02;cylinder;137,5bar\n"
    assert take(CHANGES, text).refused == []
    both = take(CHANGES, text + "bay1;2026-03-03;cylinder;1.800psi\n")
    assert "can be read in two ways" in str(both.refused[0].error)
    assert "write 1800psi or 1,800psi" in str(both.refused[0].error)


def test_a_thousands_comma_is_no_decimal_one(take: Import) -> None:
    text = 'machine,at,what,gauge\nbay1,2026-03-02,cylinder,"1,800 psi"\n'
    [entry] = take(CHANGES, text).new
    assert entry.body.cylinder_psi == Decimal(1800)


def test_columns_are_mapped_and_joined_and_the_rest_is_left_out(take: Import) -> None:
    told = Told(
        columns={"began": ["Date", "start"], "machine": ["ROOM"]}, units={"ran": "min"},
        every={"circuit": "adult"},
    )  # fmt: skip
    text = "room,date,start,minutes,wt,weight (lb)\nBay 1,2026-03-02,8:10 AM,95,x,53\n"
    [entry] = take(CASES, text, told=told).new
    assert entry.body.machine == "bay1"
    assert entry.body.circuit == "adult rebreathing"
    assert entry.happened_at == datetime(2026, 3, 2, 15, 10, tzinfo=UTC)
    assert entry.body.ended_at == datetime(2026, 3, 2, 16, 45, tzinfo=UTC)
    assert entry.body.weight_g == Decimal("24040.39561")


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        (Told(columns={"begin": ["date"]}), "begin is no column of ours; ours are machine, began"),
        (Told(columns={"began": ["day"]}), "log.csv has no column day; it has machine, date, ran"),
        (Told(every={"room": "3"}), "room is no column of ours"),
    ],
)
def test_a_mapping_that_does_not_fit_is_refused(take: Import, told: Told, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        take(CASES, "machine,date,ran\nbay1,2026-03-02 8:10,1h\n", told=told)


@pytest.mark.parametrize(
    ("first", "more", "day"),
    [
        ("3/2/2026", "25/3/2026", date(2026, 2, 3)),
        ("3/2/2026", "1/25/2026", date(2026, 3, 2)),
        ("3-2-26", "1-25-26", date(2026, 3, 2)),
        ("2026/03/02", "2026.03.03", date(2026, 3, 2)),
        ("2.3.2026", "3.3.2026", date(2026, 3, 2)),
    ],
)
def test_the_order_of_dates_is_found_where_a_day_shows_it(
    take: Import, first: str, more: str, day: date
) -> None:
    done = take(CHANGES, f"machine,at,what\nbay1,{first},cylinder\nbay1,{more},cylinder\n")
    days = [entry.happened_at.date() for entry in done.new]
    future = [str(row.error) for row in done.refused]
    assert day in days or (more == "25/3/2026" and "lies in the future" in future[0])


def test_the_order_of_dates_can_be_told(take: Import) -> None:
    text = "machine,at,what\nbay1,3/2/2026,cylinder\n"
    assert "can be read in two ways" in str(take(CHANGES, text).refused[0].error)
    [entry] = take(CHANGES, text, told=Told(date_order="month/day")).new
    assert entry.happened_at == datetime(2026, 3, 2, 7, 0, tzinfo=UTC)


def test_circuits_initials_and_words_are_taken_in_any_case(take: Import) -> None:
    text = "machine,began,ran,circuit,by\nBAY1,2026-03-02 8:10,1h,Adult,ko\n"
    [entry] = take(CASES, text, by=None).new
    assert (entry.body.circuit, entry.by) == ("adult rebreathing", "KO")
    text = "machine,at,what,size\nbay1,2026-03-02,Cylinder,e\n"
    assert take(CHANGES, text).new[0].body.size == "E"


ROWS = {
    "checks": ("machine,at,result,reason\nbay1,2026-03-02 07:10,OK,\n", "check"),
    "fills": ("vaporizer,at,added\niso1,2026-03-02 07:10,100ml\n", "agent_fill"),
    "levels": ("vaporizer,at,level\niso1,2026-03-02 07:10,200 mL\n", "agent_level"),
    "oxygen": ("machine,at,cylinder,pipeline\nbay1,2026-03-02,1800psi,50psi\n", "oxygen_reading"),
    "faults": ("unit,at,what,detail\niso1,2026-03-02,Tipped,fell\n", "fault"),
    "fittings": ("vaporizer,at,machine\niso1,2026-03-02,\n", "vaporizer_removal"),
}


@pytest.mark.parametrize("name", ROWS)
def test_each_kind_of_file_makes_its_entries(take: Import, name: str) -> None:
    text, kind = ROWS[name]
    done = take(SHEETS[name], text)
    assert done.refused == []
    assert [entry.kind for entry in done.new] == [kind]
    assert take(SHEETS[name], text).again == 1


def test_a_fault_stops_a_unit_unless_the_file_says_otherwise(take: Import) -> None:
    text = "unit,at,what,out\niso1,2026-03-02,tipped,no\niso1,2026-03-03,tipped,\n"
    assert [one.body.stops for one in take(SHEETS["faults"], text).new] == [False, True]


def test_a_fitting_names_the_machine(take: Import) -> None:
    text = "vaporizer,at,machine\niso1,2026-03-02,bay1\n"
    assert take(SHEETS["fittings"], text).new[0].kind == "vaporizer_fitting"


@pytest.mark.parametrize(
    ("name", "row", "sentence"),
    [
        ("checks", "machine,at,result\nbay1,2026-03-02,maybe\n", "write passed or failed"),
        ("checks", "machine,at\nbay1,2026-03-02\n", "lacks the column result"),
        ("fills", "vaporizer,at,lot\niso1,2026-03-02,L1\n", "volume added or the level reached"),
        ("levels", "vaporizer,at,level\niso1,2026-03-02,\n", "the cell level is empty"),
        ("oxygen", "machine,at,pipeline\nbay1,2026-03-02,125bar\n", "did you mean the cylinder?"),
        ("faults", "unit,at,what\nbay1,2026-03-02,broken\n", "the what is broken, but must be"),
        ("faults", "unit,at,what,out\nbay1,2026-03-02,leak,perhaps\n", "write yes or no"),
        ("fittings", "vaporizer,at,machine\niso1,2026-03-02,bay9\n", "there is no machine bay9"),
    ],
)
def test_a_row_of_another_kind_is_refused_in_one_sentence(
    take: Import, name: str, row: str, sentence: str
) -> None:
    try:
        told = str(take(SHEETS[name], row).refused[0].error)
    except InputError as error:
        told = str(error)
    assert sentence in told


TIPPED = "unit,at,what\niso1,2026-03-02,tipped\n"
VERIFIED = (
    "unit,item,at,outcome,certificate\n"
    "iso1,output verification,2026-03-01,passed,C-76\n"
    "iso1,cleaned,2026-03-03,passed,C-70\n"
    "iso1,output verification,2026-03-04,passed,C-77\n"
    "iso1,output verification,2026-03-05,passed,C-78\n"
)


def test_a_return_stands_on_the_first_evidence_after_the_fault(
    take: Import, bay1: Callable[..., Ran]
) -> None:
    take(SHEETS["faults"], TIPPED)
    verified = take(SERVICES, VERIFIED).new
    text = "unit,at,certificate\niso1,2026-03-05,\niso1,2026-03-06,C-78\n"
    done = take(SHEETS["returns"], text)
    assert done.refused == []
    assert [one.body.evidence_entry for one in done.new] == [verified[2].seq, verified[3].seq]
    assert take(SHEETS["returns"], text).again == 2
    assert "out of service" not in bay1("ready", "bay1").out


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("iso1,2026-03-03 12:00,", "no passed check or service after the last fault shows by"),
        ("iso1,2026-03-06,C-76", "service with the certificate C-76 after the last fault"),
        ("iso1,2026-03-06,C-70", "import faults, services and checks first"),
        ("iso9,2026-03-06,", "that iso9 may be used"),
    ],
)
def test_a_return_without_evidence_is_refused(take: Import, row: str, sentence: str) -> None:
    take(SHEETS["faults"], TIPPED)
    take(SERVICES, VERIFIED)
    done = take(SHEETS["returns"], f"unit,at,certificate\n{row}\n")
    assert done.new == []
    assert sentence in str(done.refused[0].error)


def test_a_check_on_paper_counts_as_that_days_check_and_tells_no_items(
    take: Import, bay1: Callable[..., Ran]
) -> None:
    rows = "bay1,2026-03-02 07:10,passed,\nbay1,2026-03-03 07:10,failed,valve stuck\n"
    take(SHEETS["checks"], f"machine,at,result,reason\n{rows}")
    take(CASES, "machine,began,ran\nbay1,2026-03-02 08:10,1h\n")
    told = bay1("history", "bay1").out
    assert "bay1 daily check passed, on paper, 2026-03-02 07:10 by KO" in " ".join(told.split())
    assert "bay1 daily check FAILED, on paper, valve stuck" in " ".join(told.split())
    assert "no daily check" not in bay1("case", "list", "--since", "2026-03-01").out
    again = bay1("correct", "6", "--item", "paper=failed", "--because", "slip")
    assert "no item of a check on paper is known" in again.err
