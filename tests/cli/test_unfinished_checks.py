"""A check that is interrupted loses nothing, and is taken up where and by whom it may be."""

import json
from collections.abc import Callable, Mapping
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from logbook.answers.unfinished import Unfinished, unfinished_checks
from logbook.ledger.store import already_recorded
from logbook.recording.opening import reading
from tests.cli.terminals import WALK, Command, Terminal, posix, squeezed, terminal
from tests.conftest import NOW

__all__ = ["terminal"]
KEYS = ("p", "240 at 30", "1min", "1", "p")
"""An answer to each item of the short list; the leak fails."""
STOPS: Mapping[str, Callable[[Terminal], object]] = {
    "Ctrl-C": lambda walk: walk.stops_by(b"\x03"),
    "end of input": lambda walk: walk.stops_by(b"\x04"),
    "terminal closed": Terminal.closes,
    "killed": Terminal.is_killed,
}


def kept(ledger: Path) -> list[Unfinished]:
    with reading(ledger) as book:
        return unfinished_checks(book.connection)


def last_check(bay1: Command) -> Any:
    entries = bay1("history", "bay1", "--json").json["entries"]
    return [one for one in entries if one["kind"] == "check"][-1]["body"]


@posix
@pytest.mark.parametrize("way", STOPS)
def test_a_walk_that_is_stopped_after_every_item_is_taken_up_on_another_terminal(
    terminal: Callable[..., Terminal], ledger: Path, bay1: Command, way: str
) -> None:
    assert bay1("staff", "add", "RT", "Night").code == 0
    for done, key in enumerate(KEYS[:-1]):
        by = ("--by", ("KO", "RT")[done % 2])
        walk = terminal(*WALK, *by, *(["--go-on"] if done else []))
        assert f"{done + 1}/5 " in walk.read_to(" > ")
        walk.asks(key)
        STOPS[way](walk)
        assert "Traceback" not in walk.shown
        [so_far] = kept(ledger)
        assert len(so_far.kept) == done + 1
        assert (so_far.begun_by, so_far.walked_by) == ("KO", by[1])
    last = terminal(*WALK, "--go-on")
    assert "5/5 " in last.read_to(" > ")
    last.asks(KEYS[-1], "OUT OF SERVICE: bay1")
    assert last.ends() == 3
    assert kept(ledger) == []
    with reading(ledger) as book:
        assert already_recorded(book.connection, so_far.id), "the walk's identity is its entry's"
    body = last_check(bay1)
    told = {one["item"]: (one["state"], one["by"]) for one in body["answers"]}
    assert told == {
        "hoses": ("passed", "KO"),
        "leak": ("failed", "RT"),
        "bulb": ("passed", "KO"),
        "colour": ("passed", "RT"),
        "pop-off-open": ("passed", "KO"),
    }
    assert body["begun"] == "2026-03-06T23:00:00Z"
    assert {one["at"] for one in body["answers"]} == {"2026-03-06T23:00:00Z"}
    assert [one.get("timed") for one in body["answers"]] == [None, None, False, None, None]


@posix
def test_whoever_stops_is_told_what_is_kept_and_how_to_go_on(
    terminal: Callable[..., Terminal],
) -> None:
    walk = terminal(*WALK)
    walk.read_to(" > ")
    walk.asks("p")
    assert walk.stops_by(b"\x03") == 1
    assert (
        "The check is not finished: 1 of 5 items are answered and kept; "
        "go on with: logbook check bay1 --list short." in squeezed(walk.shown)
    )


@posix
def test_a_person_goes_on_begins_anew_or_throws_away(
    terminal: Callable[..., Terminal], ledger: Path
) -> None:
    def begun(key: str, words: str = " > ") -> Terminal:
        walk = terminal(*WALK)
        asked = squeezed(walk.read_to("throw away > "))
        assert "KO began the short check of bay1 at 2026-03-06 16:00; 1 item answered" in asked
        assert "1 go on, 2 begin anew, 3 throw away >" in squeezed(walk.asks("x", "away > "))
        walk.asks(key, words)
        return walk

    first = terminal(*WALK)
    first.read_to(" > ")
    first.asks("p")
    first.is_killed()
    assert "2/5 Leak" in begun("g", "2/5 Leak at pressure").shown
    [before] = kept(ledger)
    anew = begun("A", "1/5 Hoses whole")
    assert kept(ledger) == []
    anew.asks("p", "2/5 Leak at pressure")
    anew.is_killed()
    assert kept(ledger)[0].id != before.id
    assert begun("t", "Thrown away: KO began").ends() == 0
    assert kept(ledger) == []


@posix
def test_a_second_person_sees_who_walks_it_and_the_first_cannot_go_on_unseen(
    terminal: Callable[..., Terminal], ledger: Path, bay1: Command
) -> None:
    assert bay1("staff", "add", "RT", "Night").code == 0
    first = terminal(*WALK)
    first.read_to(" > ")
    first.asks("p")
    second = terminal(*WALK, "--by", "RT")
    assert "1 take it over from KO, 2 begin anew, 3" in squeezed(second.read_to("throw away > "))
    second.asks("g")
    assert kept(ledger)[0].walked_by == "RT"
    first.asks("150 at 30", "go on.")
    assert "RT walks this short check of bay1 now" in squeezed(first.shown)
    assert first.ends() == 2
    assert len(kept(ledger)[0].kept) == 1


@pytest.fixture
def begun(terminal: Callable[..., Terminal], bay1: Command, ledger: Path) -> Command:
    """A short check of which KO answered the first item, at a terminal that is gone."""
    walk = terminal(*WALK)
    walk.read_to(" > ")
    walk.asks("p")
    walk.is_killed()
    assert len(kept(ledger)) == 1
    return bay1


REST = {"leak": "150", "bulb": "5s", "colour": "fresh", "pop-off-open": "passed"}


@posix
def test_without_a_terminal_an_option_says_what_becomes_of_it(begun: Command, ledger: Path) -> None:
    whole = ("check", "bay1", "--list", "short", "--answers", "-")
    asked = begun(*whole, stdin=json.dumps(REST))
    assert asked.code == 2
    assert "1 item answered, the last at 16:00; give --go-on, --anew or --throw-away" in asked.err
    assert "the item hoses has no answer" in begun(*whole, "--anew", stdin=json.dumps(REST)).err
    assert len(kept(ledger)) == 1
    went_on = begun(*whole, "--go-on", stdin=json.dumps(REST))
    assert (went_on.code, kept(ledger)) == (0, [])
    by = {one["item"]: one.get("by") for one in last_check(begun)["answers"]}
    assert by == {"hoses": "KO"} | dict.fromkeys(REST)


@posix
def test_a_file_of_all_answers_can_stand_in_place_of_what_was_begun(
    begun: Command, ledger: Path
) -> None:
    answers = json.dumps({"hoses": "failed"} | REST)
    ran = begun("check", "bay1", "--list", "short", "--answers", "-", "--anew", stdin=answers)
    assert (ran.code, kept(ledger)) == (3, [])
    assert last_check(begun)["answers"][0]["state"] == "failed"


@posix
def test_it_can_be_thrown_away_and_then_there_is_nothing_to_go_on_with(
    begun: Command, ledger: Path
) -> None:
    thrown = begun("check", "bay1", "--list", "short", "--throw-away")
    assert (thrown.code, kept(ledger)) == (0, [])
    assert thrown.out.startswith("Thrown away: KO began the short check of bay1")
    for option in ("--throw-away", "--go-on"):
        again = begun("check", "bay1", "--list", "short", option)
        assert (again.code, again.err) == (
            2, "Not done, nothing saved: no short check of bay1 was begun.\n",
        )  # fmt: skip


@posix
def test_the_board_says_it_and_that_it_ended_after_four_hours(
    begun: Command, clock: Callable[..., None]
) -> None:
    board = squeezed(begun("board").out)
    assert "NOT CHECKED today; short check begun by KO, not finished" in board
    ready = squeezed(begun("ready", "bay1").out)
    assert "remark: KO began the short check of bay1 at 2026-03-06 16:00; 1 item" in ready
    assert "ended after" not in ready
    clock(NOW + timedelta(hours=4))
    assert "ended after" not in squeezed(begun("ready", "bay1").out)
    clock(NOW + timedelta(hours=4, seconds=1))
    over = "it ended after 4 h without being finished"
    assert over in squeezed(begun("ready", "bay1").out)
    going_on = begun("check", "bay1", "--list", "short", "--go-on")
    assert going_on.code == 2
    assert "its first answers are too old to go on; give --anew or --throw-away" in going_on.err
    assert "began the short check" not in begun("ready", "bay1", "--as-of", "2026-03-05").out
    assert begun("rule", "set", "check-hours", "5", "--because", "slow mornings").code == 0
    assert over not in squeezed(begun("ready", "bay1").out)


@posix
def test_it_cannot_go_on_by_another_version_of_its_list(begun: Command, tmp_path: Path) -> None:
    path = tmp_path / "short.toml"
    path.write_text(path.read_text().replace("version = 1", "version = 2"))
    assert begun("checklist", "load", str(path)).code == 0
    ran = begun("check", "bay1", "--list", "short", "--go-on")
    assert "the list short has version 2 since then; give --anew or --throw-away" in ran.err
