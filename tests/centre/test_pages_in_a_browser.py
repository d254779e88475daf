"""The group's pages before a real browser: no fault that axe finds, on a phone and at a desk."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from logbook.centre.pages import COOKIE, Pages, create_pages
from tests.centre.conftest import Clinic
from tests.centre.test_pages import Centre
from tests.page.browser import conftest
from tests.page.browser.conftest import DESK, PATIENCE_MS, PHONE, Device, Place
from tests.page.browser.test_every_page import faults

browser, place = conftest.browser, conftest.place


SHOWN = (
    "/?sort=heard", "/due?within=60", "/site?name=alder-creek", "/where?written=LOT-9",
    "/lots", "/site?name=nowhere",
)  # fmt: skip
"""Each page once, with rows in its table."""


@pytest.fixture
def device(
    browser: Browser, place: Place, pages: Pages, handed_over: list[Clinic]
) -> Iterator[Device]:  # fmt: skip
    """A browser before the pages of a group; nobody reads there yet."""
    place.app = create_pages(pages)
    context = browser.new_context(has_touch=True, java_script_enabled=True)
    context.set_default_timeout(PATIENCE_MS)
    yield Device(context.new_page(), place.url)
    context.close()
    place.app = None


def test_no_page_of_the_group_has_a_fault_and_a_token_is_typed_once(
    device: Device, centre: Centre
) -> None:
    token = centre("reader", "add", "Robin").out.strip()
    assert device.open("/due?region=b") == 401
    found = list(faults(device, (PHONE, DESK)))
    device.page.get_by_label("Your token").fill(token)
    device.tap(device.button("Read"))
    device.sees("Due")
    assert device.page.url.endswith("/due?region=b")
    for path in SHOWN:
        device.open(path)
        found += faults(device, (PHONE, DESK))
    assert found == [], "\n".join(found)
    assert {one["name"] for one in device.page.context.cookies()} == {COOKIE}
    device.open("/")
    device.tap(device.link("birch-lane"))
    device.sees("birch-lane b")
