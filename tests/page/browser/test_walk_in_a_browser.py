"""Walking a check with a finger: taps, the clock of a hold, two devices, two people, a new list."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import cast

import pytest
from playwright.sync_api import expect

from logbook.checklists import Item
from logbook.entries.check import Check
from logbook.page.world import World
from tests.conftest import Ran
from tests.page.browser.conftest import PHONE, TABLET, Device, Devices
from tests.page.conftest import PIN, Clocks, Screen
from tests.page.test_page_walk import DAILY, entry, good, items, walks

HOLD_S = 31


def answer(device: Device, item: Item) -> None:
    """Answer the item that is shown, so that it passes, in as few taps as there are."""
    if item.kind == "tick":
        device.tap(device.button("Passed"))
    elif item.kind == "choice":
        device.tap(device.button(item.passing[0].capitalize()))
    else:
        timed = device.page.locator("form.hold").count()
        if timed and device.scripted:
            fill(device, {"pressure": "31"})
            device.tap(device.button("Start the clock"))
            device.page.clock.fast_forward(HOLD_S * 1000)
            device.tap(device.button("Stop the clock"))
            if fill(device, {"end_pressure": "31"}):
                device.tap(device.button("Next"))
        else:
            value = "30" if timed else good(item)["value"]
            fill(device, {"pressure": "31", "value": value, "end_pressure": "31"})
            device.tap(device.button("Next"))
        device.tap(device.link("Next"))


def fill(device: Device, told: dict[str, str]) -> int:
    """Type into those of the fields that the page has; answers how many."""
    there = {name: device.page.locator(f"main [name={name}]") for name in told}
    found = [name for name, field in there.items() if field.count()]
    for name in found:
        there[name].fill(told[name])
    return len(found)


def taps(item: Item, device: Device) -> int:
    """One for an item; one more to go on from what was measured, and those of the clock."""
    if item.kind in ("tick", "choice"):
        return 1
    if not (item.kind == "hold" or item.or_hold) or not device.scripted:
        return 2
    return 4 if item.pressure else 3


def walk(device: Device, every: tuple[Item, ...]) -> None:
    """Answer one item after another as each comes up."""
    for item in every:
        device.sees(item.title)
        answer(device, item)


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_a_whole_walk_takes_a_tap_for_each_item_and_one_more_for_what_is_looked_at(
    device_of: Devices, world: World, script: bool
) -> None:
    device, every = device_of(scripted=script), items(world)
    if script:
        device.page.clock.install()
    device.open("/machine/bay1")
    device.tap(device.link("Daily check"))
    begun = device.taps
    walk(device, every)
    device.sees("Look it over: bay1")
    device.tap(device.button("Save check as KO"))
    expect(device.page).to_have_url(re.compile(r"/entry/6\?saved=now"))
    assert device.taps - begun == sum(taps(item, device) for item in every) + 1
    body = cast(Check, entry(world, 6).body)
    assert body.verdict == "passed"
    hold = next(one for one in body.answers if one.held_s is not None)
    assert (hold.held_s, hold.timed) == ((HOLD_S, True) if script else (30, False))


@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_the_button_that_passes_an_item_stands_in_the_first_screen(
    device_of: Devices, world: World, size: tuple[int, int]
) -> None:
    device, hidden = device_of(size), []
    for item in items(world):
        device.open(f"{DAILY}/item/{item.key}")
        box = device.page.locator("form button:visible").first.bounding_box()
        assert box is not None
        if box["y"] + box["height"] > size[1]:
            hidden.append(f"{item.title}: {box}")
    assert hidden == []


def test_a_walk_goes_on_at_another_device_where_it_was_left(
    screen: Screen, device_of: Devices, world: World
) -> None:
    screen.sign()
    every = items(world)
    walks(screen, every[:5])
    tablet = device_of(TABLET)
    tablet.open("/machine/bay1")
    tablet.tap(tablet.link("Daily check"))
    tablet.reads("KO began the daily check of bay1")
    tablet.reads("5 items answered")
    tablet.tap(tablet.link(f"Go on: {every[5].title}"))
    tablet.sees(every[5].title)
    answer(tablet, every[5])
    tablet.sees(every[6].title)


def test_a_second_person_sees_who_walks_and_takes_over_with_one_tap(
    screen: Screen, device_of: Devices, world: World, bay1: Callable[..., Ran]
) -> None:
    assert bay1("staff", "add", "RT", "Rosa").code == 0
    world.signing.pins.make("RT", "sign", "719305")
    screen.sign()
    first, second, third = items(world)[:3]
    walks(screen, (first,))
    mine, other = device_of(), device_of(TABLET, signed=("RT", "719305"))
    for device in (mine, other):
        device.open(f"{DAILY}/item/{second.key}")
    other.reads("KO walks this check now.")
    expect(other.button("Passed")).to_have_count(0)
    other.tap(other.button("Take over from KO"))
    other.sees(second.title)
    other.tap(other.button("Passed"))
    other.sees(third.title)
    mine.tap(mine.button("Passed"))
    mine.reads("Nothing was saved. RT walks this daily check")
    expect(mine.page.locator("#refused")).to_be_focused()
    assert mine.page.title().startswith("Error: ")


def test_whose_signing_ended_at_the_twelfth_item_loses_no_answer(
    screen: Screen, device: Device, world: World, clocks: Clocks
) -> None:
    screen.sign()
    every = items(world)
    walks(screen, every[:11])
    twelfth = every[11]
    device.open(f"{DAILY}/item/{twelfth.key}")
    clocks.ticks_s += 601
    fill(device, {"value": "30", "pressure": "31", "end_pressure": "31"})
    device.tap(device.button("Next"))
    device.sees("Who signs at this screen")
    device.reads("Nothing was saved yet: sign first. What you gave is kept on this page.")
    device.page.get_by_label("Initials", exact=True).fill("KO")
    device.page.get_by_label("PIN", exact=True).fill(PIN)
    device.tap(device.button("Sign in"))
    device.sees("KO signs now; it is not saved yet")
    device.tap(device.button("Send it now"))
    device.sees(twelfth.title)
    device.reads("Passed: held 30 s")
    device.open(f"{DAILY}/review")
    device.reads(f"{len(every) - 12} of {len(every)} items have no answer yet")


@pytest.mark.parametrize(
    "begin",
    [datetime(2026, 3, 7, 6, 58, tzinfo=UTC), datetime(2026, 11, 1, 7, 58, tzinfo=UTC)],
    ids=["midnight", "end of summer time"],
)
def test_a_walk_across_a_change_of_the_day_or_the_hour_is_saved_whole(
    screen: Screen, device: Device, world: World, clocks: Clocks, begin: datetime
) -> None:
    clocks.now = begin
    screen.sign()
    every = items(world)
    device.open(DAILY)
    device.sees(every[0].title)
    answer(device, every[0])
    device.sees(every[1].title)
    clocks.now += timedelta(minutes=4)
    walks(screen, every[1:-1])
    device.open(DAILY)
    device.tap(device.link(f"Go on: {every[-1].title}"))
    device.sees(every[-1].title)
    answer(device, every[-1])
    device.tap(device.button("Save check as KO"))
    device.sees("Saved entry 6")
    body = cast(Check, entry(world, 6).body)
    assert body.begun == begin
    assert body.answers[-1].at == begin + timedelta(minutes=4)


def test_a_new_version_of_the_list_ends_a_walk_in_words(
    screen: Screen,
    device: Device,
    world: World,
    bay1: Callable[..., Ran],
    own_list: Callable[[int], str],
) -> None:
    assert bay1("checklist", "load", own_list(1)).code == 0
    path = "/machine/bay1/check/ours"
    device.open(path)
    device.tap(device.button("Passed"))
    device.sees("second")
    assert bay1("checklist", "load", own_list(2)).code == 0
    device.tap(device.button("Passed"))
    device.reads("Nothing was saved.")
    device.reads("The list was changed since it was begun; begin it anew.")
    device.open(path)
    device.reads("The list was changed since it was begun. Begin it anew.")
    device.tap(device.button("Throw it away and begin anew"))
    device.sees("first")


def test_the_clock_of_a_hold_tells_nothing_where_the_device_slept(
    device: Device, world: World
) -> None:
    hold = next(item for item in items(world) if item.kind == "hold")
    device.page.clock.install()
    device.open(f"{DAILY}/item/{hold.key}")
    device.tap(device.button("Start the clock"))
    device.page.clock.run_for(3_000)
    device.reads("3 s")
    device.page.clock.set_system_time(datetime.now(UTC) + timedelta(minutes=5))
    device.tap(device.button("Stop the clock"))
    device.reads("This device slept meanwhile, so that its clock tells nothing. Do it again.")
    device.sees(hold.title)


def test_a_time_that_is_typed_after_the_clock_ran_is_told_as_typed(
    device: Device, world: World
) -> None:
    hold = next(item for item in items(world) if item.kind == "hold")
    device.open(f"{DAILY}/item/{hold.key}")
    device.page.evaluate("document.forms[0].timed.value = 'yes'")
    device.page.get_by_role("textbox").fill("40")
    device.tap(device.button("Next"))
    device.reads("Passed: held 40 s")
    expect(device.page.locator("main")).not_to_contain_text("timed by the page")
