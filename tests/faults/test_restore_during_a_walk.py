"""A backup is brought back while somebody walks a check: nothing is half saved, and nobody is told
otherwise than it was."""

import io
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from pathlib import Path

import pytest

from tests.faults.bench import Place, Ran, fresh, run
from tests.faults.oracle import REFUSED, entries, kept, litter, plain, typed, whole
from tests.faults.walks import FIRST, REST, WALK, types

KEYS = {FIRST: "p\n", REST[0]: "p\n", REST[1]: "20\n", REST[2]: "p\n"}
"""What is typed to each item."""
ANSWERS = dict.fromkeys(KEYS, "passed") | {REST[1]: "20 psi"}
KIND = 2
"""The column of an entry that tells its kind."""
BROUGHT_BACK = ("--go", "--because", "disk died")


class Typing(io.StringIO):
    """What somebody types, and what is done elsewhere before some of its lines."""

    def __init__(self, text: str, meanwhile: Callable[[int], None]) -> None:
        super().__init__(text)
        self._number, self._meanwhile = 0, meanwhile

    def readline(self, size: int | None = -1, /) -> str:
        """The next line, perhaps after what is done elsewhere."""
        self._meanwhile(self._number)
        self._number += 1
        return super().readline(-1 if size is None else size)


def walked(place: Place, elsewhere: Sequence[tuple[int, Sequence[str]]]) -> Ran:
    """Walk the whole list, while elsewhere commands are typed, each before the answer of its
    number."""

    def typed_elsewhere(before: int) -> None:
        for number, words in elsewhere:
            if number == before:
                ran = run(place, words, voice="other-")
                assert (ran.code, ran.err) == (0, ""), ran

    def change() -> None:
        types("")()
        sys.stdin = Typing("".join(KEYS.values()), typed_elsewhere)

    return run(place, WALK, change)


def breaches_after(start: Place, folder: Path, backed_up: int | None, restored: int) -> list[str]:
    """Copy the ledger during the walk (None: before it), and bring the copy back later in it."""
    place = start.copy(folder)
    lost = entries(place.ledger)
    backup = "old.ledger" if backed_up is None else "copy.ledger"
    back = (restored, ("restore", f"{{desk}}/{backup}", *BROUGHT_BACK))
    copied = [] if backed_up is None else [(backed_up, ("backup", f"{{desk}}/{backup}"))]
    ran = walked(place, [*copied, back])

    def look() -> list[str]:
        place.settle_in()
        new = [row[KIND] for row in entries(place.ledger) if row not in lost]
        stands = [*_as_told(ran, backed_up, restored), *whole(place.ledger)]
        stands += [] if new[:1] == ["restore"] else [f"new are {new}"]
        done = ran.code == 0
        stands += [] if ("check" in new) == done else [f"told with {ran.code}, and new are {new}"]
        if not done:
            stands += _finished(place)
        return [*stands, *plain("a note", typed(place, "note", "x"), 0), *litter(place)]

    found: list[str] = fresh(look)
    return found


def _as_told(ran: Ran, backed_up: int | None, restored: int) -> Iterator[str]:
    """Where the copy lacks an answer that was given, the walk is not saved, and says why."""
    if restored == (backed_up or 0):
        yield from plain("the walk", ran, 0)
        return
    lacking = "or a backup was brought back" if not backed_up else "no answer"
    if ran.code != 2 or lacking not in ran.err or not REFUSED.fullmatch(ran.err):
        yield f"it said, with code {ran.code}: {ran.err}"


def _finished(place: Place) -> Iterator[str]:
    """What is kept is taken up and finished, or the check is begun anew."""
    rest = place.folder / "rest.json"
    answered = {row[0] for row in kept(place.ledger)}
    rest.write_text(json.dumps({key: one for key, one in ANSWERS.items() if key not in answered}))
    words = ["--answers", str(rest), *(["--go-on"] if answered else [])]
    yield from plain("finishing it", typed(place, *WALK, *words), 0)
    if kept(place.ledger):
        yield f"kept is still {kept(place.ledger)}"


MOMENTS = [
    (backed_up, restored)
    for restored in range(len(KEYS))
    for backed_up in (None, *range(1, restored + 1))
]


@pytest.mark.parametrize(("backed_up", "restored"), MOMENTS)
def test_a_backup_brought_back_before_any_answer_of_a_walk_is_told_and_nothing_is_half_saved(
    benches: Executor, clinics: Path, tmp_path: Path, backed_up: int | None, restored: int,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    job = (Place(clinics / "clinic"), tmp_path / "place", backed_up, restored)
    assert benches.submit(breaches_after, *job).result() == []
    when = "before the walk" if backed_up is None else f"before answer {backed_up + 1}"
    report(f"a backup of {when} brought back before answer {restored + 1}: 0 breaches")
