"""Forms of the page: killed at any call, on a disk that fails at any call, and on a full one."""

from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

import pytest

from tests.faults.bench import Place, run
from tests.faults.commands import Writing
from tests.faults.everywhere import Everywhere
from tests.faults.forms import ANSWERS, CASE, CHECK, POSTS
from tests.faults.test_full_and_read_only import limited
from tests.faults.trials import all_of, record_calls

LIMITS = {"quick": 4, "ci": 12, "full": 60}
EVERY = pytest.mark.parametrize("form", POSTS, ids=lambda form: form.name)


def walked(place: Place) -> None:
    """Answer every item of a check; its form that saves it is what is tried then."""
    for words in ANSWERS:
        ran = run(place, words)
        assert (ran.code, ran.err) == (0, ""), ran


@pytest.fixture
def start(benches: Executor, clinics: Path, tmp_path: Path, form: Writing) -> Place:
    """The clinic, in which a check is walked to its end where the form saves it."""
    place = Place(clinics / "clinic").copy(tmp_path / "start")
    if form is CHECK:
        benches.submit(walked, place).result()
    return place


@EVERY
def test_a_form_killed_at_any_call_loses_nothing_and_is_saved_once_when_it_is_sent_again(
    everywhere: Everywhere, start: Place, form: Writing
) -> None:
    everywhere.killed(start, form, quick=2)


@EVERY
def test_a_disk_error_at_any_call_of_a_form_becomes_a_page_with_the_same_form(
    everywhere: Everywhere, start: Place, form: Writing
) -> None:
    everywhere.failing(start, form, quick=2, thorough=True)


@pytest.mark.parametrize("form", [CASE], ids=lambda form: form.name)
def test_a_form_where_no_file_may_grow_is_saved_whole_or_becomes_a_page(
    benches: Executor, start: Place, tmp_path: Path, form: Writing, size: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    one = benches.submit(record_calls, start, tmp_path / "whole", form, saying=False)
    expected = one.result().expected
    grown = Place(tmp_path / "whole").ledger.stat().st_size
    # From a limit at which no journal can begin to one at which everything fits.
    limits = [max(512, round(grown * at / (LIMITS[size] - 1))) for at in range(LIMITS[size])]
    jobs = [
        (start, tmp_path / str(number), expected, limit, number)
        for number, limit in enumerate(limits)
    ]
    seen = all_of(benches, limited, jobs)
    breaches = [bad for one in seen for bad in one.breaches]
    saved = sum(one.saved for one in seen)
    report(f"files limited in size, {form.name}: {len(seen)} limits, {saved} saved, "
           f"{len(breaches)} breaches")  # fmt: skip
    assert not breaches, "\n".join(breaches)
    assert 0 < saved < len(seen)
