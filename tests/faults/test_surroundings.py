"""A computer that lacks, limits or changes something while a command runs."""

import resource
import sys
import zoneinfo
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from functools import partial
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.faults.bench import Place, run
from tests.faults.oracle import REFUSED, entries


@pytest.fixture
def no_zones(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A computer without any time zones, be it of the system or of Python."""
    # A part of it that another test has met already would be found without the whole.
    for name in {"tzdata", *(one for one in sys.modules if one.startswith("tzdata."))}:
        monkeypatch.setitem(sys.modules, name, None)
    kept = zoneinfo.TZPATH
    zoneinfo.reset_tzpath(to=())
    zoneinfo.ZoneInfo.clear_cache()
    yield
    zoneinfo.reset_tzpath(to=kept)


def test_a_computer_without_the_clinics_time_zone_is_told_as_that_and_not_as_damage(
    bay1: Callable[..., Ran], ledger: Path, no_zones: None
) -> None:
    before, copy = ledger.read_bytes(), ledger.with_name("copy.ledger")
    for words in (
        ("note", "x"), ("due",), ("board", "--json"), ("history", "bay1", "--all"), ("verify",),
        ("backup", str(copy)), ("rebuild",), ("correct", "3", "--withdraw", "--because", "slip"),
    ):  # fmt: skip
        ran = bay1(*words)
        assert (ran.code, ran.out) == (1, ""), words
        assert ran.err.startswith(
            "Not done, nothing saved: this computer does not know the time zone America/Denver"
        ), words
    assert ledger.read_bytes() == before
    assert not copy.exists()


def test_a_new_ledger_in_a_zone_that_the_computer_does_not_know_is_refused_as_a_bad_value(
    run_logbook: Callable[..., Ran], tmp_path: Path, no_zones: None
) -> None:
    path = tmp_path / "new.ledger"
    ran = run_logbook("--ledger", str(path), "new", "Birch", "--timezone", "America/Denver")
    assert (ran.code, ran.out) == (2, "")
    assert "must be a time zone written like America/Denver" in ran.err
    assert not path.exists()


HANDLES = {"quick": (4, 6), "ci": range(3, 12), "full": range(3, 20)}


def out_of_handles(number: int) -> None:
    resource.setrlimit(resource.RLIMIT_NOFILE, (number, number))


@pytest.mark.parametrize("words", [("check", "bay1", "--answers", "answers.json"), ("due",),
                                   ("note", "x"), ("import", "cases", "cases.csv")])  # fmt: skip
def test_a_system_that_gives_no_more_handles_for_files_is_told_in_one_sentence(
    benches: Executor, clinics: Path, tmp_path: Path, size: str, words: tuple[str, ...]
) -> None:
    """Not even what makes a sentence helpful can be loaded then."""
    for number in HANDLES[size]:
        place = Place(clinics / "clinic").copy(tmp_path / str(number))
        before = entries(place.ledger)
        ran = benches.submit(run, place, words, partial(out_of_handles, number)).result()
        if ran.code in (0, 3):
            assert ran.out
            continue
        assert ran.code in (2, 5), ran
        assert REFUSED.fullmatch(ran.err), ran
        assert entries(place.ledger) == before
