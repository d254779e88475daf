"""A person who walks a check while a fault happens, and what is found of it afterwards."""

import io
import json
import re
import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.faults.bench import Call, Change, Place, Ran, fails_at, fresh, killed_at, traced
from tests.faults.oracle import (
    REFUSED,
    SENTENCE,
    UNKNOWN,
    entries,
    kept,
    litter,
    plain,
    typed,
    whole,
)

LIST = "oxygen-failure-alarm"
WALK = ("check", "bay1", "--list", LIST)
STOPPED = re.compile(r"The check is not finished: 1 of 4 items are answered and kept; [^\n]+\.\n")
FIRST, *REST = (
    "oxygen-alarm-sounds",
    "other-gases-stop",
    "cylinder-side-leak",
    "oxygen-back",
)


@dataclass(frozen=True)
class Walked:
    """What became of one fault: whether it came about, whether the answer is kept, and breaches."""

    hit: bool
    kept: bool
    breaches: list[str]


def types(text: str) -> Change:
    """Somebody sits at the terminal, types this, and leaves."""

    def change() -> None:
        from logbook.cli import unfinished, walk

        for module in (unfinished, walk):
            module.has_terminal = lambda: True  # type: ignore[attr-defined]
        sys.stdin = io.StringIO(text)

    return change


def record_walk(start: Place, folder: Path, *, saying: bool) -> list[Call]:
    """The calls of a walk that is left after its first answer."""
    place = start.copy(folder)
    ran, calls = traced(place, WALK, saying=saying, change=types("p\n"))
    assert STOPPED.fullmatch(ran.err.lstrip()), ran
    assert len(kept(place.ledger)) == 1
    return calls


def walk_killed(start: Place, folder: Path, call: Call) -> Walked:
    """Kill the walk at one of its calls."""
    place = start.copy(folder)
    ran, _ = traced(place, WALK, killed_at(call), change=types("p\n"))
    told = True if "\n  passed\n" in ran.out else None
    return _looked_after(start, place, hit=ran.code == -9, told=told, at=f"killed at {call.shown}")


def walk_on_a_bad_disk(
    start: Place, folder: Path, calls: list[Call], number: int, error: str, for_good: bool
) -> Walked:
    """Let one of its calls fail, and where ``for_good`` all that follow it."""
    place = start.copy(folder)
    faults = fails_at(calls, number, error, for_good=for_good)
    ran, seen = traced(place, WALK, faults, saying=False, change=types("p\n"))
    told, badly = _told(ran)
    at = f"{error} at {calls[number].shown}"
    hit = any("INJECTED" in one.shown for one in seen)
    walked = _looked_after(start, place, hit=hit, told=told, at=at)
    return Walked(walked.hit, walked.kept, walked.breaches + badly)


def _told(ran: Ran) -> tuple[bool | None, list[str]]:
    """Whether the answer was told as kept, None where that is said to be unknown; and bad words."""
    said = ran.err.lstrip()
    if STOPPED.fullmatch(said):
        return True, []
    if UNKNOWN.fullmatch(said):
        return None, []
    well = ran.code in (1, 5) and bool(REFUSED.fullmatch(said)) and bool(SENTENCE.fullmatch(said))
    return False, [] if well else [f"it said, with code {ran.code}: {ran.out}{ran.err}"]


def _looked_after(start: Place, place: Place, *, hit: bool, told: bool | None, at: str) -> Walked:
    """The ledger is as it was, the answer is kept or not, and the check is finished elsewhere."""

    def look() -> tuple[bool, list[str]]:
        place.settle_in()
        return bool(kept(place.ledger)), list(_breaches(start, place, told))

    is_kept, breaches = fresh(look)
    shutil.rmtree(place.folder)
    return Walked(hit, is_kept, [f"{at}: {breach}" for breach in breaches])


def _breaches(start: Place, place: Place, told: bool | None) -> Iterator[str]:
    before, answers = entries(start.ledger), kept(place.ledger)
    if entries(place.ledger) != before:
        yield "the entries have changed"
    if answers not in ([], [(FIRST, '{"state": "passed"}', "KO")]):
        yield f"kept is {answers}"
    if told is not None and told != bool(answers):
        yield f"told as {'kept' if told else 'not kept'}, and kept is {answers}"
    yield from whole(place.ledger)
    asked = REST if answers else [FIRST, *REST]
    rest = place.folder / "rest.json"
    rest.write_text(json.dumps(dict.fromkeys(asked, "passed") | {"cylinder-side-leak": "20 psi"}))
    words = ["--answers", str(rest), *(["--go-on"] if answers else [])]
    yield from plain("finishing it", typed(place, *WALK, *words), 0)
    if len(entries(place.ledger)) != len(before) + 1 or kept(place.ledger):
        yield "it is not finished by one entry"
    yield from whole(place.ledger)
    yield from litter(place)
