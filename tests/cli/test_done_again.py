"""One item of a check is done again alone, and the verdict is that of the last answers."""

import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from logbook.entries.check import Check
from logbook.errors import InputError
from logbook.ledger.store import Draft, new_id
from logbook.recording.opening import writing
from logbook.recording.record import record
from tests.cli.terminals import squeezed
from tests.conftest import NOW, Ran

Command = Callable[..., Ran]
FIRST: dict[str, Any] = {
    "cylinder-pressure": "1500 psi",
    "vaporizer-level": "passed",
    "one-way-valves": "passed",
    "bag-and-hoses": "passed",
    "inner-tube": "not fitted",
    "absorbent-colour": "over half changed",
    "breathing-system-leak": "260",
    "monitors": "passed",
    "pop-off-open": "passed",
}


def walk(bay1: Command, answers: dict[str, Any], *more: str) -> Ran:
    words = ("check", "bay1", "--list", "before-case", "--answers", "-", *more)
    return bay1(*words, stdin=json.dumps(answers))


def checks(bay1: Command) -> list[Any]:
    entries = bay1("history", "bay1", "--json").json["entries"]
    return [one for one in entries if one["kind"] == "check"]


@pytest.fixture
def failed(bay1: Command, clock: Callable[..., None]) -> Command:
    """A machine that failed its leak test and its absorbent at 16:00; now it is 16:30."""
    assert walk(bay1, FIRST).code == 3
    clock(NOW + timedelta(minutes=30))
    return bay1


REDONE = {"breathing-system-leak": "150", "pop-off-open": "passed"}


def test_an_item_done_again_makes_the_check_what_its_last_answers_make_it(failed: Command) -> None:
    leak = walk(failed, REDONE, "--redo", "breathing-system-leak")
    assert leak.code == 3
    assert "before-case check FAILED, breathing-system-leak and pop-off-open done again after" in (
        squeezed(leak.out)
    )
    colour = walk(failed, {"absorbent-colour": "fresh"}, "--redo", "absorbent-colour")
    assert colour.code == 3  # It passed, and yet bay1 is out of service until somebody says so.
    assert "before-case check passed, absorbent-colour done again after entry" in (
        squeezed(colour.out)
    )
    first, second, third = checks(failed)
    assert (second["body"]["again_of"], third["body"]["again_of"]) == (
        first["entry"],
        second["entry"],
    )
    # Both values stand: the first in the entry of the check, the second in that of the item.
    value = {
        one["entry"]: {answer["item"]: answer.get("value") for answer in one["body"]["answers"]}
        for one in (first, second)
    }
    assert value[first["entry"]]["breathing-system-leak"] == "260"
    assert value[second["entry"]]["breathing-system-leak"] == "150"
    carried = [answer["item"] for answer in third["body"]["answers"] if answer.get("carried")]
    assert set(carried) == FIRST.keys() - {"absorbent-colour"}
    assert third["body"]["begun"] == first["happened_at"]


def test_the_machine_comes_back_on_the_item_that_passed(failed: Command) -> None:
    assert "NO: bay1 out of service" in squeezed(failed("ready", "bay1").out)
    walk(failed, REDONE, "--redo", "breathing-system-leak")
    walk(failed, {"absorbent-colour": "fresh"}, "--redo", "absorbent-colour")
    evidence = str(checks(failed)[-1]["entry"])
    back = failed("return-to-service", "bay1", "--evidence", evidence)
    assert back.code == 0, back.err
    assert "out of service" not in failed("ready", "bay1").out


def test_what_is_carried_over_counts_when_it_was_seen_and_not_anew(failed: Command) -> None:
    assert failed("absorbent", "change", "bay1").code == 0
    walk(failed, {"monitors": "passed"}, "--redo", "monitors")
    ready = failed("ready", "bay1", "--json").json
    told = " ".join(one["sentence"] for one in ready["reasons"])
    assert "granules" not in told
    assert "no leak test since the absorbent change, 2026-03-06 16:30" in told
    assert told.count("out of service") == 1
    assert "cylinder 1500 psi, 2026-03-06 16:00" in told
    assert "pop-off valve recorded open 2026-03-06 16:00" in told


def test_a_test_that_shuts_the_valve_asks_for_it_open_again(failed: Command) -> None:
    ran = walk(failed, {"breathing-system-leak": "150"}, "--redo", "breathing-system-leak")
    assert "the item pop-off-open has no answer" in ran.err
    ran = walk(failed, REDONE | {"monitors": "failed"}, "--redo", "breathing-system-leak")
    assert "the item monitors is not among those done again; leave it out" in ran.err
    assert len(checks(failed)) == 1


def test_an_item_is_done_again_in_the_terminal_and_shows_its_last_value_after_the_new_one(
    failed: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    words = ("check", "bay1", "--list", "before-case", "--redo", "breathing-system-leak")
    ran = failed(*words, stdin="150 at 30\np\n")
    assert ran.code == 3, ran.err
    shown = squeezed(ran.out)
    assert "Check before each case, again (entry 6). - goes back" in shown
    assert "1/2 Breathing-system leak" in shown
    last = "(last: 260 mL/min on 2026-03-06, pressure not told)"
    assert f"150 mL/min at 30 cmH2O, limit 200 {last}" in shown
    assert "2/2 Pop-off valve is OPEN" in shown
    told = squeezed(failed(*words, stdin="140 at 25\np\n").out)
    assert "(last: 150 mL/min at 30 cmH2O on 2026-03-06)" in told


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        (("--redo", "tyres"), "there is no item tyres; known are cylinder-pressure,"),
        (("--redo", "monitors", "--list", "daily"), "no daily check of bay1 is recorded"),
    ],
)
def test_what_cannot_be_done_again_is_refused(
    failed: Command, more: tuple[str, ...], sentence: str
) -> None:
    ran = walk(failed, {"monitors": "passed"}, *more)
    assert (ran.code, len(checks(failed))) == (2, 1)
    assert sentence in ran.err


def test_answers_count_together_for_four_hours_and_no_longer(
    failed: Command, clock: Callable[..., None]
) -> None:
    monitors = ({"monitors": "passed"}, "--redo", "monitors")
    clock(NOW + timedelta(hours=4))
    assert walk(failed, *monitors).code == 3
    clock(NOW + timedelta(hours=4, seconds=1))
    late = walk(failed, *monitors)
    assert late.code == 2
    assert "was not begun within the 4 h in which answers count together" in late.err


def test_a_list_of_another_version_is_walked_whole(failed: Command, tmp_path: Path) -> None:
    from logbook.checklists.reading import builtin_text

    path = tmp_path / "before-case.toml"
    path.write_text(builtin_text("before-case").replace("version = 2", "version = 3"))
    assert failed("checklist", "load", str(path)).code == 0
    ran = walk(failed, {"monitors": "passed"}, "--redo", "monitors")
    assert "answers version 2 of the list before-case, which is now version 3" in ran.err


def test_only_the_check_that_was_the_last_one_is_taken_up_again(
    failed: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.cli.walk.has_terminal", lambda: True)
    words = ("check", "bay1", "--list", "before-case")
    stopped = failed(*words, "--redo", "breathing-system-leak", stdin="150 at 30\n")
    assert "1 of 2 items are answered and kept" in stopped.err
    assert failed(*words, "--go-on", stdin="p\n").code == 3
    assert failed(*words, "--redo", "breathing-system-leak", stdin="150 at 30\n").code == 1
    assert walk(failed, FIRST, "--go-on").code == 2
    other = json.loads(json.dumps(FIRST))
    with_file = failed(*words, "--answers", "-", "--anew", stdin=json.dumps(other))
    assert with_file.code == 3


def _again(first: Any, **changed: Any) -> dict[str, Any]:
    """The body of a check that does its last item again and carries the others over."""
    answers = [one | {"carried": True} for one in first["body"]["answers"][:-1]]
    last = first["body"]["answers"][-1]
    return first["body"] | {"answers": [*answers, last], "again_of": first["entry"]} | changed


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"again_of": 1}, "entry 1 is no check that counts"),
        ({"checklist": "daily"}, "is the before-case check of bay1; name a check of the same"),
        ({"version": 1}, "name a check of the same machine by the same list"),
        ({"begun": "2026-03-06T23:31:00Z"}, "the check began at 2026-03-06 16:31, after its end"),
    ],
)
def test_an_entry_that_carries_over_what_was_not_seen_is_refused(
    failed: Command, ledger: Path, changed: dict[str, Any], sentence: str
) -> None:
    [first] = checks(failed)
    now = NOW + timedelta(minutes=30)
    with writing(ledger) as book, pytest.raises(InputError, match=sentence):
        record(book, Draft(Check.of(**_again(first, **changed)), now, "KO", new_id()), now)
    forged = _again(first)
    forged["answers"][3] = forged["answers"][3] | {"state": "failed"}
    with (
        writing(ledger) as book,
        pytest.raises(InputError, match="the item bag-and-hoses is not what entry"),
    ):
        record(book, Draft(Check.of(**forged), now, "KO", new_id()), now)
    with writing(ledger) as book:
        record(book, Draft(Check.of(**_again(first)), now, "KO", new_id()), now)


def test_a_check_that_carries_everything_or_carries_from_nowhere_is_no_check() -> None:
    answer = {"item": "bag", "state": "passed"}
    told = {"machine": "bay1", "checklist": "daily", "version": 1}
    with pytest.raises(InputError, match="item bag is carried over from no check; name it"):
        Check.of(**told, answers=[answer | {"carried": True}])
    with pytest.raises(InputError, match="every item is carried over; do at least one again"):
        Check.of(**told, answers=[answer | {"carried": True}], again_of=3)


def test_a_check_whose_answers_are_carried_over_says_so_until_the_later_one_is_withdrawn(
    failed: Command,
) -> None:
    walk(failed, {"monitors": "passed"}, "--redo", "monitors")
    first, second = (str(one["entry"]) for one in checks(failed))
    slip = ("--because", "slip")
    for more in (("--withdraw",), ("--item", "monitors=failed")):
        refused = failed("correct", first, *more, *slip)
        assert refused.code == 2
        assert f"check {second} carries its answers over; withdraw that one first" in refused.err
    assert failed("correct", first, "--happened", "15:59", *slip).saved
    assert failed("correct", second, "--withdraw", *slip).saved
    assert failed("correct", first, "--withdraw", *slip).saved
    assert "today's daily check is not recorded" in squeezed(failed("ready", "bay1").out)
