"""The page before a real browser: a server in this process, and the devices that people hold.

One browser and one server serve all tests of a process; each test puts the page of its own ledger
behind the server, so that its clocks are the test's.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from cheroot.wsgi import Server
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect, sync_playwright

from logbook.page.app import create_app
from logbook.page.world import SIGNED_COOKIE, World
from tests.conftest import Ran
from tests.page.conftest import PIN
from tests.tools import tool

PHONE, TABLET, DESK = (390, 844), (810, 1080), (1280, 800)
SIZES = (PHONE, TABLET, DESK)
"""Width and height of what people look at, in pixels of CSS."""
PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
"""The browser runs as root in some places, and asks nobody outside for anything."""


@dataclass
class Place:
    """A server's address, and the page that answers there now."""

    url: str
    app: Callable[..., Any] | None = None


@dataclass
class Device:
    """A screen that somebody touches; ``taps`` counts how often."""

    page: Page
    url: str
    scripted: bool = True
    taps: int = 0

    def open(self, path: str) -> int | None:
        """Go to a page; answers the status."""
        answer = self.page.goto(self.url + path)
        return answer.status if answer else None

    def tap(self, what: Locator) -> None:
        """Touch something once."""
        self.taps += 1
        what.tap()

    def button(self, words: str) -> Locator:
        """A button by its words from the first on."""
        return self.page.get_by_role("button", name=words)

    def link(self, words: str) -> Locator:
        """A link by its words."""
        return self.page.get_by_role("link", name=words)

    def sees(self, heading: str) -> None:
        """Wait for a page by its one heading."""
        expect(self.page.locator("h1")).to_have_text(heading)

    def reads(self, words: str) -> None:
        """Wait for words somewhere on the page."""
        expect(self.page.locator("main")).to_contain_text(words, use_inner_text=True)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's browser, started once."""
    program = tool("chromium")
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=program, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def place() -> Iterator[Place]:
    """A server that answers with whatever page a test puts behind it."""
    place = Place("")

    def answer(environ: Any, start: Any) -> Any:
        assert place.app is not None
        return place.app(environ, start)

    server = Server(("127.0.0.1", 0), answer, numthreads=6)
    server.prepare()
    place.url = f"http://127.0.0.1:{server.bind_addr[1]}"
    thread = Thread(target=server.serve, name="page")
    thread.start()
    yield place
    server.stop()
    thread.join()


Devices = Callable[..., Device]


@pytest.fixture
def device_before(browser: Browser, place: Place) -> Iterator[Devices]:
    """A device before the page of a world; KO signs there, unless somebody else is named."""
    contexts: list[BrowserContext] = []

    def device(
        world: World, size: tuple[int, int] = PHONE, *,
        signed: tuple[str, str] | None = ("KO", PIN), scripted: bool = True, **more: Any,
    ) -> Device:  # fmt: skip
        place.app = create_app(world)
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, has_touch=True,
            java_script_enabled=scripted, **more,
        )  # fmt: skip
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        if signed:
            secret = world.signing.begin(*signed, f"device {len(contexts)}")
            context.add_cookies([{"name": SIGNED_COOKIE, "value": secret, "url": place.url}])
        return Device(context.new_page(), place.url, scripted)

    yield device
    for context in contexts:
        context.close()
    place.app = None


@pytest.fixture
def device_of(device_before: Devices, world: World, bay1: Callable[..., Ran]) -> Devices:
    """A device before the page of a clinic with machine bay1 and vaporizer iso1."""
    return partial(device_before, world)


@pytest.fixture
def device(device_of: Devices) -> Device:
    """A phone at which KO signs."""
    return device_of()


@pytest.fixture
def own_list(tmp_path: Path) -> Callable[[int], str]:
    """The file of a version of a clinic's own list with two things to look at."""
    item = """
[[group.item]]
key = "{0}"
title = "{0}"
kind = "tick"
stops = true
how = "Look."
why = "It matters."
source = "our own"
confidence = "set by the clinic"
"""

    def file(version: int) -> str:
        path = tmp_path / f"ours{version}.toml"
        head = f'name = "ours"\nversion = {version}\ntitle = "Ours"\n[[group]]\ntitle = "All"\n'
        path.write_text(head + item.format("first") + item.format("second"))
        return str(path)

    return file
