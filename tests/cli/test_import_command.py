"""`logbook import`: what is told, the exit codes, and that a refused file leaves no trace."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran

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
        "Nothing is new in log.csv.\n2 of its rows were recorded already.\n",
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
        "Not done, nothing saved: rows of log.csv that are refused:",
        "row 4: there is no machine bay9; known are bay1.",
        "row 5: ran 1 needs its unit; write it like 1h35, 95min or 10s.",
    ]
    assert ledger.read_bytes() == before


def test_a_header_that_does_not_fit_is_told_in_one_sentence(
    bay1: Command, csv_file: Callable[[str], str]
) -> None:
    ran = bay1("import", "services", csv_file("unit,item,at,result\n"))
    assert ran.code == 2
    assert ran.err.startswith("Not done, nothing saved: row 1 of log.csv names the column result,")
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


@pytest.mark.parametrize("what", ["cases", "changes", "services"])
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
