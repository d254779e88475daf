"""`logbook import`: what is told, the exit codes, and that a refused file leaves no trace."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from logbook.recording.importing.sheets import SHEETS
from tests.cli.terminals import Terminal, squeezed, terminal
from tests.conftest import Ran

__all__ = ["terminal"]
Command = Callable[..., Ran]
CASES = (
    "machine,began,ran,circuit\nbay1,2026-03-02 08:10,1h35,adult\nbay1,2026-03-03 08:10,1h,adult\n"
)


@pytest.fixture
def csv_file(tmp_path: Path) -> Callable[[str], str]:
    """Writes a file to import."""

    def written(text: str) -> str:
        path = tmp_path / "log.csv"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return written


def test_an_import_says_how_many_entries_it_saved(
    bay1: Command, csv_file: Callable[[str], str]
) -> None:
    ran = bay1("import", "cases", csv_file(CASES))
    assert (ran.code, ran.out, ran.err) == (
        0,
        "Saved 2 entries from log.csv, numbers 6 to 7.\n",
        "",
    )
    assert bay1("case", "list", "--since", "2026-03-01").out.count("adult rebreathing") == 2


def test_a_second_import_says_that_nothing_is_new(
    bay1: Command, csv_file: Callable[[str], str]
) -> None:
    bay1("import", "cases", csv_file(CASES))
    ran = bay1("import", "cases", csv_file(CASES))
    assert (ran.code, ran.out) == (
        0,
        "Nothing is new in log.csv.\n2 rows of it stood here already.\n",
    )


def test_a_dry_run_says_that_nothing_is_saved(
    bay1: Command, csv_file: Callable[[str], str], ledger: Path
) -> None:
    before = ledger.read_bytes()
    ran = bay1("import", "cases", csv_file(CASES), "--dry-run")
    assert (ran.code, ran.out) == (
        0,
        "Nothing saved yet. 2 entries would be saved from log.csv.\n",
    )
    assert ledger.read_bytes() == before


@pytest.mark.parametrize("more", [(), ("--dry-run",)])
def test_every_bad_row_is_told_and_nothing_is_saved(
    bay1: Command, csv_file: Callable[[str], str], ledger: Path, more: tuple[str, ...]
) -> None:
    before = ledger.read_bytes()
    text = CASES + "bay9,2026-03-04 08:10,1h,adult\nbay1,2026-03-05 08:10,1,adult\n"
    ran = bay1("import", "cases", csv_file(text), *more)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.splitlines() == [
        "Not done, nothing saved: 2 rows of log.csv are refused, for 2 reasons:",
        "row 4: there is no machine bay9; known are bay1.",
        "row 5: ran 1 needs its unit; write it like 1h35, 95min or 10s.",
        "Where a column has one unit throughout, tell it with --weight-unit, --flow-unit, "
        "--pressure-unit, --volume-unit, --time-unit.",
    ]
    assert ledger.read_bytes() == before


def test_a_header_that_does_not_fit_is_told_in_one_sentence(
    bay1: Command, csv_file: Callable[[str], str]
) -> None:
    ran = bay1("import", "services", csv_file("unit,item,at,colour\na,b,c,d\n"))
    assert ran.code == 2
    assert ran.err.startswith("Not done, nothing saved: row 1 of log.csv names the column colour,")
    assert ran.err.count("\n") == 1


def test_changes_and_services_come_in_too(bay1: Command, csv_file: Callable[[str], str]) -> None:
    changes = "machine,at,what\nbay1,2026-03-02 07:30,absorbent\n"
    services = "unit,item,at,outcome\niso1,output verification,2026-02-20,failed\n"
    assert bay1("import", "changes", csv_file(changes)).code == 0
    assert bay1("import", "services", csv_file(services)).code == 0
    assert "absorbent changed" in bay1("history", "bay1").out
    assert "output verification FAILED" in bay1("history", "iso1").out


def test_a_bar_is_drawn_only_where_somebody_looks_on(
    bay1: Command, csv_file: Callable[[str], str], ledger: Path, tmp_path: Path
) -> None:
    pty = pytest.importorskip("pty", reason="a terminal can be made here only on POSIX")
    program = [sys.executable, "-c", "from logbook.cli import main; main()"]
    command = [*program, "--ledger", str(ledger), "import", "cases", csv_file(CASES), "--by", "KO"]
    world = os.environ | {"HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path)}
    ours, theirs = pty.openpty()
    ran = subprocess.run(
        command, stdout=subprocess.PIPE, stderr=theirs, text=True, check=True, env=world
    )
    os.close(theirs)
    assert b"100%" in os.read(ours, 10_000)
    os.close(ours)
    assert ran.stdout.startswith("Saved 2 entries")
    piped = subprocess.run(command, capture_output=True, text=True, check=True, env=world)
    assert (piped.stderr, piped.stdout.count("\n")) == ("", 2)


@pytest.mark.parametrize("what", list(SHEETS))
def test_help_of_each_import_shows_two_examples(bay1: Command, what: str) -> None:
    ran = bay1("import", what, "-h")
    assert ran.code == 0
    assert ran.out.count(f"  logbook import {what} ") == 2


def test_help_imports_nothing_heavy(bay1: Command) -> None:
    script = (
        "import sys; from click.testing import CliRunner; from logbook.cli import logbook;"
        "CliRunner().invoke(logbook, ['import', 'cases', '-h']);"
        "print([n for n in ('sqlalchemy', 'pydantic', 'alembic') if n in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert ran.stdout == "[]\n"


PAPER = "room;date;start;mins;wt\nBay1;25.02.2026;8:10;95;12,5\nbay1;26.02.2026;8:10;95;4\n"
MAPPED = (
    "--map", "machine=room", "--map", "began=date+start", "--map", "ran=mins",
    "--map", "weight=wt", "--time-unit", "min", "--weight-unit", "kg",
)  # fmt: skip


def test_columns_and_units_are_told_in_options_and_kept_in_a_file(
    bay1: Command, csv_file: Callable[[str], str], tmp_path: Path
) -> None:
    kept = tmp_path / "columns.toml"
    ran = bay1("import", "cases", csv_file(PAPER), *MAPPED, "--mapping", str(kept))
    assert ran.code == 0, ran.err
    assert "Read with semicolons between the cells, a comma before decimals" in ran.out
    assert "a bare weight in kg" in ran.out
    assert f"kept in {kept}" in ran.out
    listed = bay1("case", "list", "--since", "2026-02-20", "--json").json["cases"]
    assert [(one["ran_s"], one["weight_g"]) for one in listed] == [(5700, "12500"), (5700, "4000")]
    again = bay1("import", "cases", csv_file(PAPER), "--mapping", str(kept))
    assert again.out.startswith("Nothing is new in log.csv.\n2 rows of it stood here already.")


def test_what_was_told_of_columns_is_never_written_through_a_link_that_leads_nowhere(
    bay1: Command, csv_file: Callable[[str], str], tmp_path: Path
) -> None:
    planted = tmp_path / "columns.toml"
    planted.symlink_to(tmp_path / "of-somebody-else")
    ran = bay1("import", "cases", csv_file(PAPER), *MAPPED, "--mapping", str(planted))
    assert "kept in" not in ran.out
    assert not (tmp_path / "of-somebody-else").exists()


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("columns = 3", "is no file of columns"),
        ("[", "is no file of columns"),
        ('date_order = "year"', "write day/month or month/day"),
        ('[columns]\nroom = "machine"', "room is no column of ours"),
    ],
)
def test_a_file_of_columns_that_does_not_fit_is_refused(
    bay1: Command, csv_file: Callable[[str], str], tmp_path: Path, content: str, sentence: str
) -> None:
    (tmp_path / "columns.toml").write_text(content)
    ran = bay1("import", "cases", csv_file(PAPER), "--mapping", str(tmp_path / "columns.toml"))
    assert (ran.code, ran.out) == (2, "")
    assert sentence in ran.err


def test_columns_that_are_not_taken_over_are_named(
    bay1: Command, csv_file: Callable[[str], str]
) -> None:
    text = "machine,start of it,ran,notes\nbay1,2026-03-02 8:10,1h,quiet\n"
    ran = bay1("import", "cases", csv_file(text), "--map", "began=start of it", "--dry-run")
    assert "Not taken over: notes.\n" in ran.out


def test_faults_of_many_rows_are_counted_and_the_first_three_named(
    bay1: Command, csv_file: Callable[[str], str]
) -> None:
    rows = "".join(f"bay9,2026-03-02 {hour:02}:10,1h,spiral\n" for hour in range(5))
    ran = bay1("import", "cases", csv_file(f"machine,began,ran,circuit\n{rows}"))
    assert ran.err.splitlines()[:2] == [
        "Not done, nothing saved: 5 rows of log.csv are refused, for 1 reason:",
        "5 rows (2, 3, 4, …): circuit spiral is not known; write adult or pediatric or "
        "non-rebreathing or unknown.",
    ]


SLASHED = "machine,began,ran\nbay1,3/2/2026 8:10,1h\n"


def test_the_order_of_dates_is_asked_where_the_file_does_not_show_it(
    bay1: Command, csv_file: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = csv_file(SLASHED)
    unasked = bay1("import", "cases", path)
    assert (unasked.code, unasked.out) == (2, "")
    assert "How dates are written is told with --date-order." in unasked.err
    monkeypatch.setattr("logbook.cli.mapping.has_terminal", lambda: True)
    asked = bay1("import", "cases", path, stdin="day/month\n")
    assert "log.csv has dates such as 3/2/2026. How are they written?" in squeezed(asked.out)
    assert "dates as day/month" in asked.out
    assert "2026-02-03 08:10" in bay1("case", "list", "--since", "2026-01-01").out
    assert "How are they" not in bay1("import", "cases", csv_file(CASES)).out


def test_the_clinics_order_of_dates_counts_where_nobody_is_asked_and_is_told(
    bay1: Command, csv_file: Callable[[str], str]
) -> None:
    assert bay1("clinic", "change", "--date-order", "month/day", "--because", "ours").saved
    assert "dates as month/day" in bay1("import", "cases", csv_file(SLASHED)).out
    assert "2026-03-02 08:10" in bay1("case", "list").out


def test_the_order_of_dates_is_found_anew_in_each_file_whatever_another_one_had(
    bay1: Command, csv_file: Callable[[str], str], tmp_path: Path
) -> None:
    kept = tmp_path / "paper.toml"
    kept.write_text('date_order = "month/day"\n', "utf-8")
    words = ("--mapping", str(kept))
    shows = "machine,began,ran\nbay1,25/2/2026 8:10,1h\nbay1,4/2/2026 8:10,1h\n"
    told = bay1("import", "cases", csv_file(shows), *words)
    assert "dates as day/month" in told.out
    assert "was read as" not in told.out
    since = ("case", "list", "--since", "2026-01-01")
    assert "2026-02-04 08:10" in bay1(*since).out
    told = bay1("import", "cases", csv_file(SLASHED), *words)
    assert (
        "3/2/2026 was read as month/day; nothing in log.csv shows that, and --date-order tells "
        "otherwise."
    ) in squeezed(told.out)
    assert "2026-03-02 08:10" in bay1(*since).out


def test_cases_so_long_that_an_end_may_be_forgotten_are_told(
    bay1: Command, csv_file: Callable[[str], str]
) -> None:
    rows = "".join(f"bay1,2026-02-2{day} 08:10,{9 + day}h\n" for day in range(4))
    text = f"machine,began,ran\nbay1,2026-03-02 08:10,6h\n{rows}"
    ran = bay1("import", "cases", csv_file(text), "--dry-run")
    assert (
        "4 cases so long that an end may be forgotten: bay1 2026-02-20 08:10, 9 h; "
        "bay1 2026-02-21 08:10, 10 h; bay1 2026-02-22 08:10, 11 h; and more."
    ) in squeezed(ran.out)


def test_a_terminal_asks_which_column_is_which_and_keeps_it(
    bay1: Command, terminal: Callable[..., Terminal], csv_file: Callable[[str], str]
) -> None:
    text = "date;start;mins;wt\n2026-02-25;8:10;95min;12kg\n"
    path = csv_file(text)
    asked = terminal("import", "cases", path, "--by", "KO")
    assert "log.csv has the columns: date, start, mins, wt" in squeezed(asked.read_to("machine > "))
    assert "the same in every row" in asked.asks("")
    asked.asks("bay1")
    asked.asks("date+start")
    asked.asks("")  # ended
    asked.asks("mins")
    asked.asks("")  # circuit
    asked.asks("wt")
    for _ in range(5):
        asked.asks("")
    told = squeezed(asked.asks("", "reads it"))
    assert "Saved 1 entry from log.csv" in told
    assert Path(path).with_suffix(".columns.toml").exists()


def test_what_lies_before_the_first_day_is_marked_and_accuses_nobody(
    bay1: Command, csv_file: Callable[[str], str]
) -> None:
    bay1("clinic", "change", "--since", "2026-03-03", "--because", "from then on")
    rows = "bay1,2026-03-02 08:10,1h\nbay1,2026-03-03 08:10,1h\n"
    assert bay1("import", "cases", csv_file(f"machine,began,ran\n{rows}")).code == 0
    before, since = bay1("case", "list", "--since", "2026-03-01", "--json").json["cases"]
    assert (before["flags"], before["recorded"]["before_logbook"]) == ([], True)
    assert since["flags"] != []
    assert since["recorded"]["before_logbook"] is False
    listed = " ".join(bay1("case", "list", "--since", "2026-03-01").out.split())
    assert listed.count("[before this logbook]") == 1
    assert "recorded 3 days afterwards" in listed
    told = " ".join(bay1("history", "bay1").out.split())
    assert told.count("[before this logbook]") == 1
