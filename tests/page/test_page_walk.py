"""Walking a check at the page: one item a screen, kept as it goes, by one person or two."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import cast

import pytest

from logbook.answers.checking import to_walk
from logbook.answers.moment import moment_at
from logbook.checklists import Item
from logbook.entries.check import Check
from logbook.ledger.store import Entry, read_entry
from logbook.page.world import World
from logbook.recording.opening import reading
from logbook.shipped import folder
from tests.conftest import ZONE, Ran
from tests.page.conftest import Clocks, Screen

DAILY = "/machine/bay1/check/daily"
GOOD = {"psi": "1500", "mL/min": "150", "h": "3", "g": "800", "cmH2O": "20"}


def items(world: World, name: str = "daily") -> tuple[Item, ...]:
    """What is asked at bay1, in its order."""
    with reading(world.office.ledger) as book:
        return to_walk(book.connection, moment_at(world.office.clock(), ZONE), "bay1", name).items


def good(item: Item) -> dict[str, str]:
    """An answer with which an item passes."""
    if item.kind == "tick":
        return {"state": "passed"}
    if item.kind == "choice":
        return {"value": item.passing[0]}
    if item.kind == "hold":
        return {"value": "30"}
    return {"value": "50" if item.reads == "pipeline" else GOOD[str(item.unit)]}


def identity(screen: Screen) -> str:
    """The walk that the forms of the last page belong to."""
    found = re.search(r'name="identity" value="([^"]+)"', screen.html)
    assert found, screen.says
    return found[1]


def answers(screen: Screen, key: str, list_: str = DAILY, **fields: str) -> int:
    """Open an item's page and answer it there."""
    screen.get(f"{list_}/item/{key}?anew=1")
    return screen.send(f"{list_}/item/{key}", identity=identity(screen), **fields)


def walks(screen: Screen, every: tuple[Item, ...], list_: str = DAILY) -> None:
    for item in every:
        assert answers(screen, item.key, list_, **good(item)) == 200, screen.says


def saves(screen: Screen, list_: str = DAILY) -> int:
    screen.get(f"{list_}/review")
    return screen.send(f"{list_}/save", identity=identity(screen))


def entry(world: World, seq: int) -> Entry:
    with reading(world.office.ledger) as book:
        found = read_entry(book.connection, seq)
    assert found is not None
    return found


def test_a_whole_walk_becomes_an_entry_that_tells_when_each_item_was_answered(
    screen: Screen, world: World, clocks: Clocks
) -> None:
    screen.sign()
    screen.get("/machine/bay1")
    assert all(words in screen.says for words in ("Daily check", "Check before case"))
    screen.get(DAILY)
    every = items(world)
    assert every[0].title in screen.says
    assert f"1 of {len(every)}" in screen.says
    began = clocks.now
    for item in every:
        clocks.now += timedelta(seconds=10)
        assert answers(screen, item.key, **good(item)) == 200, screen.says
    screen.get(f"{DAILY}/review")
    assert "Save check as KO" in screen.says
    assert saves(screen) == 200
    assert "Saved entry 6" in screen.says
    body = cast(Check, entry(world, 6).body)
    assert body.verdict == "passed"
    assert body.begun == began + timedelta(seconds=10)
    given = {one.item: one for one in body.answers}
    assert [given[item.key].at for item in every] == [
        began + timedelta(seconds=10 * number) for number in range(1, len(every) + 1)
    ]
    assert {given[item.key].by for item in every} == {"KO"}


def test_a_tick_takes_one_tap_and_leads_on(screen: Screen, world: World) -> None:
    screen.sign()
    first, second = items(world)[:2]
    assert answers(screen, first.key, state="passed") == 200
    assert second.title in screen.says
    assert screen.html.count("<h1>") == 1


def test_a_measured_item_is_judged_before_one_goes_on_and_only_then_shows_the_last_value(
    screen: Screen, world: World, bay1: Callable[..., Ran], clocks: Clocks
) -> None:
    screen.sign()
    walks(screen, items(world))
    saves(screen)
    clocks.now += timedelta(days=1)
    measured = next(item for item in items(world) if item.unit == "mL/min")
    screen.get(f"{DAILY}/item/{measured.key}?how=number")
    assert "150" not in screen.says
    assert len(re.findall(r'<input type="text"', screen.html)) == 2
    assert "Reading (mL/min)" in screen.says
    assert answers(screen, measured.key, value="3,5") == 200
    assert "Passed: 3.5 mL/min" in screen.says
    assert "Last: 150 mL/min on 2026-03-06, pressure not told" in screen.says
    assert "Next" in screen.says
    assert answers(screen, measured.key, value="900") == 200
    assert "FAILED: 900 mL/min" in screen.says


def test_nobody_ticks_what_is_measured(screen: Screen, world: World) -> None:
    screen.sign()
    measured = next(item for item in items(world) if item.kind == "number")
    assert answers(screen, measured.key, state="passed") == 422
    assert "Nothing was saved. Nothing is filled in; fill in what you read." in screen.says
    assert screen.send(f"{DAILY}/item/{measured.key}?how=failed", state="passed") == 200
    assert "Passed" not in screen.says


@pytest.mark.parametrize("value", ["abc", "nan", "1e3", "-5", "٣", "", " ", "9" * 13, "1,234"])
def test_a_reading_that_is_none_is_refused_by_the_title_of_its_item(
    screen: Screen, world: World, value: str
) -> None:
    screen.sign()
    measured = next(item for item in items(world) if item.unit == "mL/min")
    assert answers(screen, measured.key, value=value) == 422
    assert "Nothing was saved." in screen.says
    assert measured.key not in screen.says
    assert screen.get(f"{DAILY}/review") == 200
    assert "Look it over" not in screen.says


def test_failed_not_done_and_not_fitted_are_one_link_and_one_button_away(
    screen: Screen, world: World
) -> None:
    screen.sign()
    every = items(world)
    tick = next(item for item in every if item.kind == "tick")
    fits = next(item for item in every if item.fits)
    for item, how, fields, mark in (
        (tick, "failed", {"reason": "hiss"}, "FAILED: hiss"),
        (tick, "not done", {"reason": "no time"}, "Not done: no time"),
        (fits, "not fitted", {}, "Not fitted"),
    ):
        screen.get(f"{DAILY}/item/{item.key}?anew=1")
        assert how.capitalize() in screen.says
        screen.get(f"{DAILY}/item/{item.key}?how={how}&anew=1")
        path = f"{DAILY}/item/{item.key}?how={how}"
        assert screen.send(path, identity=identity(screen), **fields) == 200, screen.says
        screen.get(f"{DAILY}/item/{item.key}")
        assert mark in screen.says
    screen.get(f"{DAILY}/item/{tick.key}")
    assert "Not fitted" not in screen.says
    path = f"{DAILY}/item/{tick.key}?how=not done"
    screen.get(path + "&anew=1")
    assert screen.send(path, identity=identity(screen), reason=" ") == 422
    assert f"“{tick.title}” is not done, so it needs a reason" in screen.says


def test_a_hold_tells_whether_the_page_timed_it(screen: Screen, world: World) -> None:
    screen.sign()
    every = items(world)
    hold = next(item for item in every if item.kind == "hold")
    leak = next(item for item in every if item.or_hold)
    assert answers(screen, hold.key, value="31", timed="yes") == 200
    path = f"{DAILY}/item/{leak.key}?how=hold"
    screen.get(path)
    assert screen.html.count('<input type="text"') == 3
    assert "Held (s)" in screen.says
    assert "it shows a large leak only: with a bag on, 1 cmH2O is about 600 mL/min" in screen.says
    read = {"pressure": "31", "value": "30", "end_pressure": "31"}
    assert screen.send(path, identity=identity(screen), **read) == 200
    assert "Passed: held 30 s at 31 cmH2O, at least 10; it shows a large leak only" in screen.says
    for item in every:
        if item.key not in (hold.key, leak.key):
            answers(screen, item.key, **good(item))
    saves(screen)
    given = {one.item: one for one in cast(Check, entry(world, 6).body).answers}
    assert (given[hold.key].held_s, given[hold.key].timed) == (31, True)
    assert (given[leak.key].held_s, given[leak.key].timed) == (30, False)
    assert (given[leak.key].pressure_cmh2o, given[leak.key].end_pressure_cmh2o) == (31, 31)


def test_a_flow_is_judged_at_the_pressure_that_was_read(screen: Screen, world: World) -> None:
    screen.sign()
    leak = next(item for item in items(world) if item.or_hold)
    screen.get(f"{DAILY}/item/{leak.key}")
    assert "Pressure at its begin (cmH2O)" in screen.says  # Nobody told what the flowmeter shows.
    path = f"{DAILY}/item/{leak.key}?how=number"
    screen.get(path)
    assert "Pressure read (cmH2O)" in screen.says
    reading = {"value": "150", "pressure": "20"}
    assert screen.send(path, identity=identity(screen), **reading) == 200
    assert "150 mL/min at 20 cmH2O cannot be judged by 200 at 30 cmH2O" in screen.says
    screen.get(path + "&anew=1")
    assert screen.send(path, identity=identity(screen), value="150", pressure="300") == 422
    assert "a pressure read is above 0, and at most 100 cmH2O" in screen.says
    screen.get(path + "&anew=1")
    assert screen.send(path, identity=identity(screen), value="150", pressure="30,5") == 200
    assert "Passed: 150 mL/min at 30.5 cmH2O" in screen.says


def test_nothing_is_saved_while_an_item_has_no_answer(screen: Screen, world: World) -> None:
    screen.sign()
    every = items(world)
    walks(screen, every[:-1])
    screen.get(f"{DAILY}/review")
    assert f"1 of {len(every)} items have no answer yet" in screen.says
    assert "Save check" not in screen.says
    walk = re.search(r"", "") and identity_of(screen, every[-1])
    assert screen.send(f"{DAILY}/save", identity=walk) == 422
    assert f"“{every[-1].title}” has no answer; answer it first." in screen.says


def identity_of(screen: Screen, item: Item) -> str:
    screen.get(f"{DAILY}/item/{item.key}?anew=1")
    return identity(screen)


def test_the_pop_off_valve_comes_last_and_its_page_ends_the_walk_in_no_other_way(
    screen: Screen, world: World
) -> None:
    for name in ("daily", "before-case"):
        last = items(world, name)[-1]
        assert last.key == "pop-off-open"
        screen.get(f"/machine/bay1/check/{name}/item/{last.key}")
        assert "loud" in screen.html
        assert "/save" not in screen.html
        assert "/review" not in screen.html


def test_a_walk_goes_on_at_another_device_and_after_signing_in_again(
    screen: Screen, world: World, screen_of: Callable[[World], Screen], clocks: Clocks
) -> None:
    screen.sign()
    every = items(world)
    walks(screen, every[:5])
    other = screen_of(world)
    other.sign()
    other.get(DAILY)
    assert "KO began the daily check of bay1 at 2026-03-06 16:00; 5 items answered" in other.says
    assert f"Go on: {every[5].title}" in other.says
    assert "Look through from:" in other.says or every[5].group != every[4].group
    clocks.ticks_s += 601
    path = f"{DAILY}/item/{every[5].key}"
    other.get(path)
    walk = identity(other)
    assert other.send(path, identity=walk, **good(every[5])) == 401
    kept = {"kept.identity": walk} | {f"kept.{k}": v for k, v in good(every[5]).items()}
    assert other.sign(then=path, **kept) == 200
    assert other.send(path, identity=walk, **good(every[5])) == 200
    other.get(f"{DAILY}/review")
    assert f"{len(every) - 6} of {len(every)} items have no answer yet" in other.says


def test_a_second_person_is_told_who_walks_and_takes_over_with_one_tap(
    screen: Screen, world: World, screen_of: Callable[[World], Screen], bay1: Callable[..., Ran]
) -> None:
    assert bay1("staff", "add", "RT", "Rosa").code == 0
    world.signing.pins.make("RT", "sign", "719305")
    screen.sign()
    every = items(world)
    walks(screen, every[:2])
    other = screen_of(world)
    other.sign("RT", "719305")
    path = f"{DAILY}/item/{every[2].key}"
    other.get(path)
    assert "KO walks this check now." in other.says
    assert "Take over from KO" in other.says
    screen.get(path)
    walk = identity(screen)
    assert other.send(path, identity=walk, **good(every[2])) == 422
    assert "take it over to go on" in other.says
    assert other.send(f"{DAILY}/take-over") == 200
    assert every[2].title in other.says
    walks(other, every[2:])
    assert screen.send(path, identity=walk, **good(every[2])) == 422
    assert "RT walks this daily check" in screen.says
    assert saves(other) == 200
    body = cast(Check, entry(world, 7).body)
    assert {one.by for one in body.answers if one.by} == {"KO", "RT"}
    assert entry(world, 7).by == "RT"


def test_what_was_saved_is_saved_once_whatever_old_page_is_sent(
    screen: Screen, world: World
) -> None:
    screen.sign()
    every = items(world)
    walks(screen, every)
    screen.get(f"{DAILY}/review")
    walk = identity(screen)
    for told in ("Saved entry 6", "Already recorded as entry 6", "Already recorded as entry 6"):
        assert screen.send(f"{DAILY}/save", identity=walk) == 200
        assert told in screen.says
    assert screen.send(f"{DAILY}/item/{every[0].key}", identity=walk, **good(every[0])) == 200
    assert "Already recorded as entry 6" in screen.says
    screen.get(DAILY)
    assert "began the daily check" not in screen.says
    assert screen.client.get("/health").json["entries"] == 6


def test_a_walk_that_lies_too_long_is_not_gone_on_with(
    screen: Screen, world: World, clocks: Clocks
) -> None:
    screen.sign()
    every = items(world)
    walks(screen, every[:3])
    path = f"{DAILY}/item/{every[3].key}"
    screen.get(path)
    walk = identity(screen)
    clocks.now += timedelta(hours=4, seconds=1)
    assert screen.send(path, identity=walk, **good(every[3])) == 422
    assert "begin it anew" in screen.says
    screen.get(DAILY)
    assert "too old" in screen.says
    assert "Go on" not in screen.says
    assert screen.send(f"{DAILY}/throw-away", identity=walk) == 200
    assert f"1 of {len(every)}" in screen.says


@pytest.mark.parametrize(
    "begin", [datetime(2026, 3, 7, 6, 58, tzinfo=UTC), datetime(2026, 11, 1, 7, 30, tzinfo=UTC)]
)
def test_neither_midnight_nor_the_end_of_summer_time_loses_a_walk(
    screen: Screen, world: World, clocks: Clocks, begin: datetime
) -> None:
    clocks.now = begin
    screen.sign()
    for item in items(world):
        clocks.now += timedelta(minutes=4)
        assert answers(screen, item.key, **good(item)) == 200, screen.says
    assert saves(screen) == 200
    assert "Saved entry 6" in screen.says


def test_one_item_is_done_again_alone_and_the_valve_is_opened_after_it(
    screen: Screen, world: World
) -> None:
    screen.sign()
    every = items(world)
    walks(screen, every)
    leak = next(item for item in every if item.tests == "leak" and item.unit == "mL/min")
    answers(screen, leak.key, value="900")
    saves(screen)
    assert "OUT OF SERVICE: bay1" in screen.says
    assert screen.says.index("OUT OF SERVICE") < screen.says.index("leak")
    path = f"{DAILY}/item/{leak.key}?again=1"
    assert f'href="{path}"' in screen.html.replace("&amp;", "&")
    screen.get(path)
    assert "1 of 2" in screen.says
    assert screen.send(path, identity=identity(screen), value="120") == 200
    assert "Passed: 120 mL/min" in screen.says
    screen.get(f"{DAILY}/item/pop-off-open")
    assert (
        screen.send(f"{DAILY}/item/pop-off-open", identity=identity(screen), state="passed") == 200
    )
    assert saves(screen) == 200
    body = cast(Check, entry(world, 7).body)
    assert (body.again_of, body.verdict) == (6, "passed")


@pytest.mark.parametrize(
    "path",
    ["/machine/bay9/check/daily", "/machine/bay1/check/nonsense", f"{DAILY}/item/nonsense",
     f"{DAILY}/item/pop-off-open?how=copied"],
)  # fmt: skip
def test_a_list_or_item_that_there_is_not_is_told(screen: Screen, path: str) -> None:
    assert screen.get(path) == 404


def shown(screen: Screen) -> dict[str, str]:
    """What the form of the last page carries of the answers that it shows."""
    found = re.search(r'name="shown" value="([^"]*)"', screen.html)
    assert found, screen.says
    return {"shown": found[1], "identity": identity(screen)}


def test_an_answer_of_another_screen_is_shown_before_another_takes_its_place(
    screen: Screen, world: World, screen_of: Callable[[World], Screen]
) -> None:
    phone, first = screen_of(world), items(world)[0]
    for one in (screen, phone):
        one.sign()
    path = f"{DAILY}/item/{first.key}"
    screen.get(path)
    walk = shown(screen)
    assert screen.send(path, state="passed", **walk) == 200
    assert screen.send(path, state="passed", **walk) == 200
    failed = {"reason": "torn"}
    assert phone.send(f"{path}?how=failed", **walk, **failed) == 422
    assert "KO answered this at 16:00 at another screen: passed;" in phone.says
    assert phone.send(f"{path}?how=failed", **shown(phone), **failed) == 200
    screen.get(f"{DAILY}/review")
    assert "torn" in screen.says


def test_nobody_saves_a_check_with_an_answer_that_was_changed_unseen(
    screen: Screen, world: World
) -> None:
    screen.sign()
    every = items(world)
    walks(screen, every)
    screen.get(f"{DAILY}/review")
    seen = shown(screen)
    assert answers(screen, f"{every[0].key}", **good(every[0])) == 200
    path = f"{DAILY}/item/{every[0].key}"
    screen.get(f"{path}?how=failed&anew=1")
    assert screen.send(f"{path}?how=failed", reason="torn", identity=seen["identity"]) == 200
    assert screen.send(f"{DAILY}/save", **seen) == 422
    assert "An answer was changed at another screen meanwhile; look it over again." in screen.says
    assert "torn" in screen.says
    assert screen.send(f"{DAILY}/save", **shown(screen)) == 200


def test_a_list_that_was_changed_mid_walk_says_so_on_every_page_of_the_walk(
    screen: Screen, world: World, bay1: Callable[..., Ran], tmp_path: Path
) -> None:
    screen.sign()
    every = items(world)
    for item in every[:2]:
        assert answers(screen, item.key, **good(item)) == 200
    walk = identity(screen)
    text = (folder("checklists") / "daily.toml").read_text("utf-8")
    changed = re.sub(r"(?m)^version = \d+", "version = 99", text)
    changed = changed.replace(f'key = "{every[2].key}"', 'key = "brought-in"')
    (tmp_path / "daily.toml").write_text(changed, encoding="utf-8")
    assert bay1("checklist", "load", str(tmp_path / "daily.toml")).saved
    for path in ("", f"/item/{every[3].key}", f"/item/{every[2].key}", "/review"):
        assert screen.get(f"{DAILY}{path}") == 200
        assert "The list was changed since it was begun." in screen.says
    kept = screen.send(f"{DAILY}/item/{every[3].key}", identity=walk, **good(every[3]))
    assert kept == 422
    assert "The list was changed since it was begun; begin it anew." in screen.says
    assert screen.send(f"{DAILY}/save", identity=walk) == 422


def test_a_page_of_a_walk_that_is_no_more_leads_to_its_entry_or_to_the_begin(
    screen: Screen, world: World
) -> None:
    screen.sign()
    every = items(world)
    screen.get(DAILY)
    begun = str(screen.answer.request.full_path)
    walk = identity(screen)
    assert begun.endswith(f"identity={walk}")
    screen.send(f"{DAILY}/item/{every[0].key}", identity=walk, **good(every[0]))
    screen.send(f"{DAILY}/throw-away", identity=walk)
    old = f"{DAILY}/item/{every[3].key}?identity={walk}"
    screen.get(old)
    assert every[0].title in screen.says
    assert identity(screen) != walk
    walks(screen, every)
    screen.get(f"{DAILY}/review")
    walk = identity(screen)
    saves(screen)
    for path in (f"{DAILY}/item/{every[3].key}", f"{DAILY}/review", f"{DAILY}/item/{every[0].key}"):
        screen.get(f"{path}?identity={walk}")
        assert "Already recorded as entry 6" in screen.says
