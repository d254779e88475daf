"""Programs of two versions at one ledger, which the newer one upgrades: at every interleaving one
stands still after one of its calls, the other runs whole, and the first goes on."""

import json
import random
import re
import shutil
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.faults.bench import NEXT, Call, Change, Place, Ran, run, stopped_at, traced
from tests.faults.oracle import BODY, chained, entries, litter
from tests.faults.test_interleaved import hasty
from tests.faults.test_migrations_killed import STEP, Coming, version
from tests.faults.trials import all_of, drawn

REFUSED = re.compile(r"Not done, nothing saved: [^\n]+\.\n")
NOTE, DUE = ("note", "{who}"), ("due",)


@dataclass(frozen=True)
class Meeting:
    """Who stands still and who comes meanwhile, each with its words."""

    first: str
    first_words: tuple[str, ...]
    second: str
    second_words: tuple[str, ...]

    @property
    def name(self) -> str:
        return (
            f"the {self.first} program's {self.first_words[0]} "
            f"and the {self.second} one's {self.second_words[0]}"
        )


MEETINGS = [
    Meeting("newer", NOTE, "older", NOTE),
    Meeting("newer", NOTE, "older", DUE),
    Meeting("newer", DUE, "newer", NOTE),
    Meeting("older", NOTE, "newer", NOTE),
    Meeting("older", DUE, "newer", NOTE),
]


def words_of(who: str, words: tuple[str, ...]) -> list[str]:
    return [word.replace("{who}", f"by the {who}") for word in words]


def as_one(who: str, coming: Coming) -> Change:
    """Make a process a program of that version, which waits for a lock only as long as a test."""

    def change() -> None:
        hasty()
        if who == "newer":
            coming()

    return change


def calls_of(start: Place, folder: Path, coming: Coming, meeting: Meeting) -> list[Call]:
    """The calls of the first where nobody comes between."""
    place = start.copy(folder)
    words = words_of(meeting.first, meeting.first_words)
    change = as_one(meeting.first, coming)
    _, calls = traced(place, words, saying=False, change=change)
    return calls


def meet(start: Place, folder: Path, coming: Coming, meeting: Meeting, call: Call) -> list[str]:
    """Let the second run whole while the first stands still after a call."""
    place = start.copy(folder)
    before = entries(place.ledger)
    seconds: list[Ran] = []

    def second() -> None:
        words = words_of(meeting.second, meeting.second_words)
        seconds.append(run(place, words, as_one(meeting.second, coming), "second "))

    first, _ = traced(
        place, words_of(meeting.first, meeting.first_words), stopped_at(call), saying=False,
        change=as_one(meeting.first, coming), meanwhile=second,
    )  # fmt: skip
    breaches = [] if seconds else ["the first never stood still"]
    told = [(meeting.first, meeting.first_words, first)]
    told += [(meeting.second, meeting.second_words, one) for one in seconds]
    breaches += [breach for one in told if (breach := badly_said(*one))]
    rows = entries(place.ledger)
    said = sorted(
        f"by the {who}" for who, words, ran in told if words[0] == "note" and ran.code == 0
    )
    if rows[: len(before)] != before:
        breaches.append("what stood there has changed")
    if sorted(json.loads(str(row[BODY]))["text"] for row in rows[len(before) :]) != said:
        breaches.append(f"told as saved was {said}, and there is {rows[len(before) :]}")
    if any(ran.code == 6 for _, _, ran in told) and version(place.ledger) != NEXT:
        breaches.append("it was told as newer, and is not")
    copy = place.ledger.with_name(f"{place.ledger.name}.before-{NEXT}")
    if copy.exists() and entries(copy)[: len(before)] != before:
        breaches.append("the copy of the old file lacks entries")
    breaches += [*chained(place.ledger), *litter(place)]
    shutil.rmtree(folder)
    return [f"{meeting.name}, stopped after {call.shown}: {breach}" for breach in breaches]


def badly_said(who: str, words: tuple[str, ...], ran: Ran) -> str | None:
    """It is answered or done; or refused in a sentence, as busy or by the older one as newer."""
    if ran.code in ((0,) if words[0] == "note" else (0, 3)):
        well = bool(ran.out) and not ran.err
    else:
        known = (5, 6) if who == "older" else (5,)
        well = ran.code in known and not ran.out and bool(REFUSED.fullmatch(ran.err))
    return None if well else f"the {who} said, with code {ran.code}: {ran.out}{ran.err}"


@pytest.mark.parametrize("meeting", MEETINGS, ids=lambda one: one.name)
def test_programs_of_two_versions_that_meet_at_any_call_keep_what_both_said(
    benches: Executor, clinics: Path, tmp_path: Path, meeting: Meeting, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    coming, start = Coming(tmp_path, STEP), Place(clinics / "clinic")
    calls = benches.submit(calls_of, start, tmp_path / "calls", coming, meeting).result()
    numbers = drawn(calls, size, chance, quick=2)
    jobs = [(start, tmp_path / str(number), coming, meeting, calls[number]) for number in numbers]
    breaches = [breach for one in all_of(benches, meet, jobs) for breach in one]
    report(
        f"two versions that meet, {meeting.name}: at {len(numbers)} of {len(calls)} calls, "
        f"{len(breaches)} breaches"
    )
    assert not breaches, "\n".join(breaches)
