"""The README shows what the program really prints, and its limits are those of the code.

With UPDATE_README=1 in the environment the shown parts are written anew instead of compared.
"""

import os
import re
import shlex
import tomllib
from collections.abc import Callable
from itertools import count
from pathlib import Path
from uuid import UUID

import pytest

from logbook.ledger import store
from logbook.sheets.rules import limits_table
from tests.faults.counted import COUNTED, seeds, table
from tests.faults.test_tampering import ROWS

README = Path(__file__).parents[1] / "README.md"
CONSOLE = re.compile(r"```console\n(.*?)```", re.DOTALL)
TAMPERING = re.compile(r"(<!-- tampering: begin -->\n)(.*?)(<!-- tampering: end -->)", re.DOTALL)
FAULTS = re.compile(r"(<!-- faults: begin -->\n)(.*?)(<!-- faults: end -->)", re.DOTALL)
LIMITS = re.compile(r"(<!-- limits: begin -->\n)(.*?)(<!-- limits: end -->)", re.DOTALL)


def expect(text: str) -> None:
    """Compare the README with what it should say, or write it anew where that is asked for."""
    if os.environ.get("UPDATE_README"):
        README.write_text(text)
    assert README.read_text() == text


def test_the_table_of_limits_is_that_of_the_code() -> None:
    expect(LIMITS.sub(lambda part: part[1] + limits_table() + part[3], README.read_text()))


def _dash(cell: str) -> str:
    return "–" if cell == "-" else cell


def test_the_table_of_attacks_is_that_of_the_tests() -> None:
    names = ("attack", "alone", "remarks", "stranger", "before", "after", "memory")
    rows = [names, ["---"] * len(names), *([_dash(cell) for cell in row] for row in ROWS)]
    table = "".join(f"| {' | '.join(row)} |\n" for row in rows)
    expect(TAMPERING.sub(lambda part: part[1] + table + part[3], README.read_text()))


def test_the_table_of_faults_is_made_of_the_report_of_a_whole_run() -> None:
    report = COUNTED.read_text()
    expect(FAULTS.sub(lambda part: part[1] + table(report) + part[3], README.read_text()))
    (seed,) = seeds(report)
    assert f"(`tests/faults/counted.txt`, seed {seed})" in README.read_text()


def test_a_report_that_tells_of_a_breach_or_lacks_a_line_makes_no_table() -> None:
    report = COUNTED.read_text()
    with pytest.raises(ValueError, match="breaches"):
        table(report.replace("0 breaches", "2 breaches", 1))
    without = "".join(one for one in report.splitlines(True) if "power cut: " not in one)
    with pytest.raises(ValueError, match="tells nothing of 'power cut: #'"):
        table(without)


def test_the_week_prints_what_the_readme_shows(
    run_logbook: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LOGBOOK_LEDGER", "clinic.ledger")
    monkeypatch.setenv("COLUMNS", "88")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "clinic.ledger").unlink()
    # The identities are the only thing that differs from one run to the next.
    numbers = count(1)
    monkeypatch.setattr(store.uuid, "uuid4", lambda: UUID(int=next(numbers)))

    def block(match: re.Match[str]) -> str:
        lines = [line for line in match[1].splitlines() if line.startswith("$ ")]
        shown = []
        for line in lines:
            ran = run_logbook(*shlex.split(line.removeprefix("$ logbook ")))
            assert ran.err == "", line
            shown.append(f"{line}\n{ran.out}")
        return "```console\n" + "".join(shown) + "```"

    expect(CONSOLE.sub(block, README.read_text()))


def test_the_pictures_are_small_shown_and_stay_out_of_the_wheel() -> None:
    samples = README.parent / "sample_data"
    pictures = sorted((samples / "pictures").iterdir())
    assert [one.name for one in pictures] == ["tablet.png", "telephone.png"]
    assert sum(one.stat().st_size for one in pictures) <= 300_000
    text = README.read_text()
    assert all(f"(sample_data/pictures/{one.name})" in text for one in pictures)
    told = tomllib.loads((README.parent / "pyproject.toml").read_text())
    packed = told["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"].keys()
    files = {f"sample_data/{one.name}" for one in samples.iterdir() if one.is_file()}
    assert packed - {"migrations"} == files
