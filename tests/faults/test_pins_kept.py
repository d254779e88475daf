"""A PIN that was told is the one that is kept, whoever else gives one, and wherever it is told."""

import os
from collections.abc import Callable
from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

from logbook.errors import NotSaved
from logbook.office.pins import Pins
from tests.faults.bench import Place, Ran, run
from tests.faults.test_told_is_what_happened import NOT_SHOWN

ROUNDS = {"quick": 3, "ci": 12, "full": 40}


def test_two_who_give_a_pin_at_once_have_both_or_one_is_told_to_try_again(
    tmp_path: Path, size: str, report: Callable[[str], None]
) -> None:
    pins, told_again = Pins.beside(tmp_path / "clinic.ledger"), 0
    people = ("KO", "RT", "LM")
    for _ in range(ROUNDS[size]):
        start = Barrier(len(people))

        def given(initials: str, start: Barrier = start) -> str | None:
            start.wait()
            try:
                return pins.make(initials, "sign")
            except NotSaved:
                return None

        before = pins.read()
        with ThreadPoolExecutor(len(people)) as pool:
            told = dict(zip(people, pool.map(given, people), strict=True))
        kept = pins.read()
        for initials, typed in told.items():
            if typed is None:
                told_again += 1
                assert kept.get(initials) == before.get(initials)
            else:
                assert kept[initials].fits(typed)
    report(f"PINs given at once: {ROUNDS[size]} times {len(people)}, {told_again} to try again")


def no_space_for_output() -> None:
    os.dup2(os.open("/dev/full", os.O_WRONLY), 1)


def test_a_pin_that_was_made_and_could_not_be_shown_is_told_as_made(
    benches: Executor, clinics: Path, tmp_path: Path
) -> None:
    place = Place(clinics / "clinic").copy(tmp_path / "place")
    job = benches.submit(run, place, ("staff", "pin", "KO"), no_space_for_output)
    ran: Ran = job.result()
    assert "KO" in Pins.beside(place.ledger).read()
    assert ran.code == 1
    assert NOT_SHOWN.fullmatch(ran.err)
