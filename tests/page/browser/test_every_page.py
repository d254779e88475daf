"""Every page at every size: no fault that axe finds, nothing to scroll sideways, room for fingers.

axe-core 4 tells breaches of WCAG 2; contrast of 7:1 is its rule ``color-contrast-enhanced``.
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from axe_playwright_python.base import AXE_SCRIPT

from logbook.errors import NotSaved, Trouble
from logbook.office.office import Office
from logbook.page.app import create_app
from logbook.page.world import World
from tests.page.browser.conftest import PHONE, SIZES, Device, Devices
from tests.page.conftest import Screen
from tests.page.routes import NOT_THERE, OPENED, REFUSED
from tests.page.test_page_walk import answers, good, items

NO_PAGES = ("/health", "/label/bay1/code.svg", "/address/code.svg")
SHOWN = [path for path in OPENED if path not in NO_PAGES]
NARROW = (320, 640)
"""What a screen of 1280 pixels shows at 400 %: WCAG 2.2, 1.4.10."""
RULES = {
    "resultTypes": ["violations"],
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"color-contrast-enhanced": {"enabled": True}, "target-size": {"enabled": True}},
}
AXE = """rules => axe.run(rules).then(found => found.violations.map(
    one => `${one.id}: ${one.nodes.map(node => node.target).join(" | ")}`))"""
WIDER = """() => [...document.querySelectorAll("body *")].filter(
    one => one.getBoundingClientRect().right > document.documentElement.clientWidth + 1
).map(one => one.outerHTML.slice(0, 80)).slice(0, 3)"""
TOUCHED = """needs => {
    const found = [], edge = one => one.getBoundingClientRect();
    const every = [...document.querySelectorAll(
        "a[href], button, input:not([type=hidden]), select, summary, label.tile"
    )].filter(one => one.checkVisibility() && !one.closest("label.tile:not(:scope)")
        && !one.matches(".skip") && edge(one).width);
    const named = one => one.outerHTML.slice(0, 90);
    for (const one of every) {
        const need = one.closest("main") && !one.matches(".skip") ? needs : 48, box = edge(one);
        if (Math.min(box.width, box.height) < need - 0.5)
            found.push(`${Math.round(box.width)} x ${Math.round(box.height)}: ${named(one)}`);
    }
    for (const one of document.querySelectorAll("main input[type=text], main input[type=password]"))
        if (parseFloat(getComputedStyle(one).fontSize) < 24)
            found.push(`small type: ${named(one)}`);
    for (const [at, one] of every.entries()) for (const other of every.slice(at + 1)) {
        const [a, b] = [edge(one), edge(other)];
        const apart = Math.max(
            a.left - b.right, b.left - a.right, a.top - b.bottom, b.top - a.bottom);
        if (apart < 7.5 && !one.contains(other) && !other.contains(one))
            found.push(`${Math.round(apart)} apart: ${named(one)} / ${named(other)}`);
    }
    return found;
}"""
"""Controls that are smaller than needed or too near another, and fields of small type; at a machine
a glove touches them."""
BIG_PX, PX = 72, 48
GLOVED = re.compile(r"/check/|/begin|/end$|/who")
SEND = """([path, fields]) => {
    const form = document.createElement("form"), sent = {identity: crypto.randomUUID()};
    for (const field of document.querySelectorAll("main [name=token], main [name=identity]"))
        sent[field.name] = field.value;
    Object.assign(form, {method: "post", action: path});
    for (const [name, value] of Object.entries({...sent, ...fields}))
        form.append(Object.assign(document.createElement("input"), {name, value}));
    document.body.append(form);
    form.submit();
}"""
"""Sends what no hand could type into the form that is shown."""


@pytest.fixture
def busy_clinic(demo_world: World) -> World:
    """The demo, where a case runs on bay1 and a check of it is begun."""
    with create_app(demo_world).test_client() as client:
        screen = Screen(client)
        screen.sign()
        for item in items(demo_world)[:3]:
            assert answers(screen, item.key, **good(item)) == 200, screen.says
        fields = {"pop_off": "open", "circuit": "adult"}
        assert screen.send("/machine/bay1/begin", **fields) == 200, screen.says
    return demo_world


def faults(device: Device, sizes: tuple[tuple[int, int], ...] = SIZES) -> Iterator[str]:
    """What axe finds on the page that is shown, and what is wider than the screen, at each size."""
    device.page.evaluate(AXE_SCRIPT)
    for width, height in (*sizes, NARROW):
        device.page.set_viewport_size({"width": width, "height": height})
        at = f"{device.page.url} at {width}"
        if (width, height) in sizes:
            yield from (f"{at}: {one}" for one in device.page.evaluate(AXE, RULES))
        needed_px = BIG_PX if GLOVED.search(device.page.url) else PX
        yield from (f"{at}: {one}" for one in device.page.evaluate(TOUCHED, needed_px))
        yield from (f"{at}: wider: {one}" for one in device.page.evaluate(WIDER))


def send(device: Device, path: str, fields: dict[str, str]) -> int | None:
    """Send a form from the page on which it stands, else from another; answers the status."""
    device.open(path)
    if not device.page.locator("main [name=token]").count():
        device.open("/who")
    with device.page.expect_navigation() as answer:
        device.page.evaluate(SEND, [path, fields])
    return answer.value.status


@pytest.mark.parametrize("part", range(3))
def test_no_page_that_is_opened_has_a_fault(
    device_before: Devices, busy_clinic: World, part: int
) -> None:
    device, found = device_before(busy_clinic), []
    for path in SHOWN[part::3]:
        assert device.open(path) == 200, path
        found += faults(device)
    assert found == [], "\n".join(found)


def test_no_page_that_refuses_has_a_fault(device_before: Devices, busy_clinic: World) -> None:
    device, found = device_before(busy_clinic), []
    for path in NOT_THERE:
        assert device.open(path) in (404, 422), path
        found += faults(device)
    for path, fields in REFUSED:
        assert send(device, path, fields) in (403, 405, 422), path
        found += faults(device)
    assert found == [], "\n".join(found)


def test_what_is_wrong_on_a_page_is_found(device: Device) -> None:
    device.open("/who")
    device.page.evaluate(
        """() => {
            document.querySelector("h1").style.color = "#777";
            const [field, button] = ["input", "button"].map(one => document.createElement(one));
            document.querySelector("main").append(field, button);
            field.style.minWidth = "900px";
            button.style.minHeight = "40px";
            field.type = "text";
            field.style.fontSize = "16px";
        }"""
    )
    found = "\n".join(faults(device, (PHONE,)))
    told = ("color-contrast-enhanced: h1", "label: ", "48 x 40: <button", "wider: <input", "small")
    for words in told:
        assert words in found, found


def test_every_route_stands_in_the_table(busy_clinic: World) -> None:
    routes = create_app(busy_clinic).url_map
    adapter = routes.bind("localhost")

    def rule(path: str, method: str) -> str:
        path, _, query = path.partition("?")
        return str(adapter.match(path, method, query_args=query, return_rule=True)[0])

    opened = {rule(path, "GET") for path in OPENED}
    sent = {rule(path, "POST") for path, _ in REFUSED if path != "/due"}
    # Styles and a calendar are no pages.
    pages = routes.iter_rules()
    every = [one for one in pages if one.endpoint not in ("static", "feed.show")]
    assert {one.rule for one in every if "GET" in one.methods} == opened
    assert {one.rule for one in every if "POST" in one.methods} == sent


class Busy(Office):
    """A ledger that another program holds for too long."""

    def reading(self, *_: Any, **__: Any) -> Any:
        raise NotSaved("the ledger is locked", trouble=Trouble.LOCKED)

    writing = reading


def test_no_page_of_a_ledger_that_is_held_has_a_fault(
    device_before: Devices, busy_clinic: World
) -> None:
    """Of pages that differ in their address alone the first is looked at."""
    office = busy_clinic.office
    busy = replace(busy_clinic, office=Busy(office.ledger, office.memory, office.clock))
    shapes: dict[str, tuple[str, dict[str, str] | None]] = {}
    with create_app(busy).test_client() as client:
        screen = Screen(client)
        screen.sign()
        for path, fields in [*((one, None) for one in SHOWN), *REFUSED]:
            status = screen.get(path) if fields is None else screen.send(path, **fields)
            shape = re.sub(r'(action|href|value|name)="[^"]*"', "", screen.html)
            if status == 503:
                shapes.setdefault(shape, (path, fields))
    assert len(shapes) >= 3
    device, found = device_before(busy), []
    for path, fields in shapes.values():
        assert (device.open(path) if fields is None else send(device, path, fields)) == 503
        found += faults(device)
    assert found == [], "\n".join(found)
