"""What hands do at a page: tap twice, go back, lose the network, use keys alone or large type."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from logbook.page.app import create_app
from logbook.page.wall import RENEWED_S
from logbook.page.world import World
from tests.page.browser.conftest import DESK, TABLET, Device, Devices, Place
from tests.page.conftest import Clocks, Screen
from tests.page.test_page_walk import DAILY, items, walks

BEGIN = "/machine/bay1/begin"
LOST = "Nothing was saved: the connection to the logbook is lost. What you gave is kept here"


def entries(world: World) -> int:
    """How many entries the ledger has."""
    with create_app(world).test_client() as client:
        return int(client.get("/health").json["entries"])


def begin_form(device: Device) -> None:
    """The form of a case's begin, up to its last tap."""
    device.open(BEGIN)
    device.tap(device.page.get_by_text("Seen open"))


def test_a_case_begins_with_two_taps_and_a_valve_seen_shut_is_told_first(
    device: Device, clocks: Clocks
) -> None:
    device.open("/machine/bay1")
    device.tap(device.link("Begin case"))
    device.taps = 0
    device.tap(device.page.get_by_text("Seen shut"))
    device.tap(device.button("Begin case").first)
    device.sees("Saved entry 6")
    assert device.taps == 2
    shut = device.page.get_by_text("THE POP-OFF VALVE IS SHUT: open it now.")
    assert shut.bounding_box()["y"] < device.page.viewport_size["height"] / 2
    clocks.now += timedelta(minutes=50)
    device.open("/machine/bay1")
    device.tap(device.link("End case"))
    device.tap(device.button("End case"))
    device.sees("Saved entry 7")


@pytest.mark.parametrize("scripted", [True, False], ids=["with script", "without script"])
def test_a_button_that_is_tapped_twice_saves_once(
    device_of: Devices, world: World, scripted: bool
) -> None:
    device = device_of(scripted=scripted)
    begin_form(device)
    sent: list[str] = []
    device.page.on("request", lambda asked: asked.method == "POST" and sent.append(asked.url))
    device.button("Begin case").first.dblclick()
    # The address is looked at again and again: of two sendings the browser gives up the first,
    # which waiting for one navigation takes for an error.
    expect(device.page).to_have_url(re.compile(r"/entry/6\?saved="))
    assert entries(world) == 6
    assert not scripted or len(sent) == 1


def test_back_and_refresh_save_nothing_a_second_time(device: Device, world: World) -> None:
    begin_form(device)
    device.tap(device.button("Begin case").first)
    device.sees("Saved entry 6")
    device.page.reload()
    device.sees("Saved entry 6")
    device.page.go_back()
    device.sees("Already recorded as entry 6")
    device.reads("Nothing was saved a second time.")
    device.page.go_forward()
    device.sees("Saved entry 6")
    assert entries(world) == 6


def test_back_to_an_item_of_a_saved_check_leads_to_its_entry(
    screen: Screen, device: Device, world: World
) -> None:
    screen.sign()
    every = items(world)
    walks(screen, every[:-1])
    device.open(DAILY)
    device.tap(device.link(f"Go on: {every[-1].title}"))
    device.tap(device.button("Passed"))
    device.tap(device.button("Save check as KO"))
    device.sees("Saved entry 6")
    for _ in range(2):
        device.page.go_back()
        device.sees("Already recorded as entry 6")
    device.open(DAILY)
    device.sees(every[0].title)


def test_without_the_network_a_page_says_so_keeps_what_was_typed_and_sends_it_later(
    device: Device, world: World
) -> None:
    begin_form(device)
    device.page.locator("summary").click()
    device.page.get_by_label("Reference of your own").fill("17")
    device.page.context.set_offline(True)
    device.tap(device.button("Begin case").first)
    device.reads(LOST)
    expect(device.page.locator("#lost")).to_be_focused()
    expect(device.page.get_by_label("Reference of your own")).to_have_value("17")
    assert entries(world) == 5
    device.page.context.set_offline(False)
    device.tap(device.button("Begin case").first)
    device.sees("Saved entry 6")
    device.reads("with a reference")


def test_a_verdict_that_nobody_confirms_is_told_as_old(device: Device) -> None:
    device.page.clock.install()
    device.open("/")
    at = device.page.locator(".as-of")
    expect(at).not_to_contain_text("(old)")
    device.page.context.set_offline(True)
    for _ in range(5):
        device.page.clock.run_for(15_000)
        device.reads("The connection to the logbook is lost.")
    expect(at).to_contain_text("(old)")
    device.page.context.set_offline(False)
    device.page.clock.run_for(15_000)
    expect(at).not_to_contain_text("(old)")


def test_the_wall_renews_itself_and_keeps_its_board_where_nobody_answers(
    device: Device, place: Place, world: World
) -> None:
    device.page.clock.install()
    device.open("/wall")
    device.page.context.set_offline(True)
    device.page.clock.run_for(RENEWED_S * 1000 + 500)
    device.reads("The connection to the logbook is lost.")
    device.reads("bay1")
    device.page.context.set_offline(False)
    with device.page.expect_navigation():
        device.page.clock.run_for(RENEWED_S * 1000)
    expect(device.page.locator("#lost")).to_be_hidden()


def test_a_refusal_is_read_first_and_what_was_typed_stays(device: Device) -> None:
    begin_form(device)
    device.page.locator("summary").click()
    device.page.get_by_label("Weight (kg or lb)").fill("24")
    device.tap(device.button("Begin case").first)
    device.reads("Nothing was saved.")
    expect(device.page.locator("#refused")).to_be_focused()
    assert device.page.title().startswith("Error: ")
    expect(device.page.get_by_label("Weight (kg or lb)")).to_have_value("24")
    expect(device.page.get_by_label("Weight (kg or lb)")).to_be_visible()


def test_a_check_is_begun_with_keys_alone(device_of: Devices, world: World) -> None:
    device = device_of(DESK, signed=None)
    press = device.page.keyboard.press
    device.open("/who?then=" + DAILY)
    press("Tab")
    expect(device.link("To the content")).to_be_focused()
    press("Enter")
    press("Tab")
    device.page.keyboard.type("KO")
    press("Tab")
    device.page.keyboard.type("402817")
    press("Enter")
    for item in items(world)[:2]:
        device.sees(item.title)
        assert item.kind == "tick"
        press("Tab")
        press("Enter")
        press("Tab")
        expect(device.button("Passed")).to_be_focused()
        ring = device.button("Passed").evaluate("one => getComputedStyle(one).outlineWidth")
        assert float(ring.removesuffix("px")) >= 2
        press("Enter")
    device.sees(items(world)[2].title)


def test_in_forced_colours_what_stops_and_what_is_chosen_still_shows(
    device_of: Devices,
) -> None:
    device = device_of(forced_colors="active")
    begin_form(device)
    tile = device.page.locator(".tile", has_text="Seen open")
    other = device.page.locator(".tile", has_text="Seen shut")
    outline = "one => getComputedStyle(one).outlineStyle"
    assert (tile.evaluate(outline), other.evaluate(outline)) == ("solid", "none")
    device.tap(device.button("Begin case").first)
    edge = "one => parseFloat(getComputedStyle(one).borderTopWidth)"
    assert device.page.locator("a.act").first.evaluate(edge) >= 2


def test_type_of_twice_the_size_still_fits_the_screen(device_of: Devices) -> None:
    device = device_of(TABLET)
    for path in ("/", "/machine/bay1", BEGIN, f"{DAILY}/item/pop-off-open", "/due", "/who"):
        device.open(path)
        device.page.evaluate("document.documentElement.style.fontSize = '200%'")
        wide = device.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wide <= 0, path


def test_a_page_that_only_shows_offers_nothing_to_send(
    device_before: Devices, world: World
) -> None:
    device = device_before(replace(world, read_only=True), signed=None)
    device.open("/")
    device.reads("No machine is recorded yet.")
    assert not re.search("Sign in|Begin case", device.page.content())


def test_a_page_asks_for_two_files_more_and_nobody_else(device: Device) -> None:
    asked: list[tuple[str, int]] = []
    device.page.on("response", lambda one: asked.append((one.url, len(one.body()))))
    for path in ("/", "/machine/bay1", f"{DAILY}/item/pop-off-open"):
        asked.clear()
        device.open(path)
        device.page.wait_for_load_state("networkidle")
        files = [url for url, _ in asked if "icon" not in url]
        assert len(files) <= 3, asked
        assert all(url.startswith(device.url) for url, _ in asked)
        assert sum(size for _, size in asked) <= 60_000, asked


def test_a_pin_is_shown_and_hidden_by_a_button(device_of: Devices) -> None:
    device = device_of(signed=None)
    device.open("/who")
    pin = device.page.get_by_label("PIN", exact=True)
    expect(pin).to_have_attribute("type", "password")
    device.tap(device.button("Show the PIN"))
    expect(pin).to_have_attribute("type", "text")
    device.tap(device.button("Hide the PIN"))
    expect(pin).to_have_attribute("type", "password")
