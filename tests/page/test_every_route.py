"""Every page that there is, opened and refused: its words, its one heading, and who may send it."""

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Any

import pytest

from logbook.cli import COMMANDS
from logbook.errors import LedgerError, MaybeSaved, NewerLedger, NotSaved, Trouble
from logbook.office.office import Office
from logbook.page.app import create_app
from logbook.page.guard import ASKS_FOR_NO_PIN
from logbook.page.world import World
from tests.page.conftest import PIN, Screen
from tests.page.routes import DAILY, NOT_THERE, OPENED, REFUSED
from tests.page.test_page_walk import answers, good, items

NO_PAGES = ("/health", "/label/bay1/code.svg", "/address/code.svg")
OF_THE_SHELL = re.compile(
    rf"\blogbook ({'|'.join(COMMANDS)})\b|(?<![-\w])--?[a-z][a-z-]+|\$ |LOGBOOK_[A-Z]+"
)
A_PATH = re.compile(r"(?<![\w/.:])(/[\w.-]+){2,}|[A-Z]:\\\\|\.ledger\b|\.py\b|Traceback")
FIXED: dict[str, tuple[str, ...]] = {
    "/": ("Scan or type a tag",),
    "/machine/dental": ("Begin case", "Daily check", "Check before case"),
    "/machine/bay1": ("End case",),
    f"{DAILY}/item/pop-off-open": ("Passed", "Failed", "Not done"),
    f"{DAILY}/item/pipeline-pressure?anew=1": ("Next", "Failed", "Not done", "Not fitted"),
    "/who": ("Initials", "PIN"),
}
"""Words that scripts and screen readers know, by the page on which they stand."""


@pytest.fixture
def before(demo_world: World) -> Screen:
    """A screen before the demo's page: a case runs on bay1, and a check of it is begun."""
    screen = Screen(create_app(demo_world).test_client())
    screen.sign()
    for item in items(demo_world)[:3]:
        assert answers(screen, item.key, **good(item)) == 200, screen.says
    fields = {"pop_off": "open", "circuit": "adult"}
    assert screen.send("/machine/bay1/begin", **fields) == 200, screen.says
    return screen


def faults(screen: Screen, at: str) -> Iterator[str]:
    """What is wrong with the last page."""
    if len(re.findall(r"<h1[ >]", screen.html)) != 1:
        yield f"{at}: not one heading"
    if not re.search(r"<title>[^<]*\w[^<]*</title>", screen.html):
        yield f"{at}: no title"
    for found in (OF_THE_SHELL.search(screen.says), A_PATH.search(screen.says)):
        if found:
            yield f"{at}: {found[0]}"
    if re.search(r"\bsafe(ly)?\b", screen.says, re.IGNORECASE):
        yield f"{at}: says safe"
    if re.search(r"<style|style=|<script(?![^>]*src)|\son\w+=|javascript:", screen.html):
        yield f"{at}: a style or script of its own"


def test_no_page_names_a_command_an_option_or_a_path_and_each_has_one_heading(
    before: Screen,
) -> None:
    found = []
    for path in [*OPENED, *FIXED]:
        assert before.get(path) == 200, path
        if path not in NO_PAGES:
            found += faults(before, path)
    for path in NOT_THERE:
        assert before.get(path) in (404, 422), path
        found += faults(before, path)
    for path, fields in REFUSED:
        assert before.send(path, **fields) in (403, 405, 422), path
        found += faults(before, f"{path} refused")
    assert found == []


def test_the_words_that_scripts_and_readers_know_stand_where_they_are_sought(
    before: Screen,
) -> None:
    for path, words in FIXED.items():
        before.get(path)
        there = re.findall(r"<(?:a|button|label|strong)[^>]*>([^<]*)", before.html)
        assert [word for word in words if not any(word in one for one in there)] == [], path
    before.get("/")
    tags = re.findall(r'href="/machine/[^"]+">(\w+)', before.html)
    assert {"bay1", "bay2", "bay3", "dental"} <= set(tags)
    before.get(f"{DAILY}/item/pipeline-pressure?anew=1")
    assert before.html.count('type="text"') == 1
    assert re.search(r"<label[^>]*>[^<]*psi[^<]*</label>", before.html)


def test_what_is_wrong_is_found(before: Screen) -> None:
    before.html = (
        "<title> </title><h1>A</h1><h1>B</h1><p style='x'>It is safe: type logbook due, or --all."
        " See /srv/data/clinic.ledger.</p>"
    )
    assert len(list(faults(before, "here"))) == 6
    before.html = "<title>Due</title><h1>Due</h1><p>5 L/min, and/or 12-14 d, -3 %</p>"
    assert list(faults(before, "here")) == []


FAILURES = {
    "damaged": LedgerError("/srv/clinic.ledger: entry 7 was changed"),
    "newer": NewerLedger("/srv/clinic.ledger was written by a newer program"),
    "perhaps": MaybeSaved("/srv/clinic.ledger: the disk gave an error"),
    **{one.name.lower(): NotSaved(f"/srv/clinic.ledger: {one}", one) for one in Trouble},
}


class Failing(Office):
    """A ledger that cannot be had."""

    def reading(self, *_: Any, **__: Any) -> Any:
        raise FAILURES[self.ledger.name]

    writing = reading


@pytest.mark.parametrize("why", FAILURES)
def test_a_ledger_that_cannot_be_had_is_told_on_every_page_without_its_path(
    demo_world: World, why: str
) -> None:
    office = Failing(demo_world.office.ledger.with_name(why), demo_world.office.memory, None)
    screen = Screen(create_app(replace(demo_world, office=office)).test_client())
    screen.sign()
    found = []
    for path, send in [
        *((one, partial(screen.get, one)) for one in OPENED if one not in NO_PAGES),
        *((one, partial(screen.send, one, **fields)) for one, fields in REFUSED),
    ]:
        if send() == 503:
            found += faults(screen, f"{path} {why}")
        else:
            assert "Traceback" not in screen.html
    assert found == []


def test_whoever_may_only_look_sends_nothing_that_is_recorded(demo_world: World) -> None:
    demo_world.signing.pins.make("RT", "look", PIN)
    app = create_app(demo_world)
    screen = Screen(app.test_client())
    screen.sign("RT")
    entries = screen.client.get("/health").json["entries"]
    tried = set()
    for path, fields in [*REFUSED, ("/machine/bay1/begin", {}), ("/machine/bay1/end", {})]:
        adapter = app.url_map.bind("localhost")
        if path == "/due":
            continue
        endpoint = adapter.match(path.partition("?")[0], "POST")[0]
        tried.add(endpoint)
        if endpoint not in ASKS_FOR_NO_PIN:
            assert screen.send(path, **(fields | {"token": screen.token()})) == 403, path
            assert "may only look" in screen.says
    posts = {one.endpoint for one in app.url_map.iter_rules() if "POST" in one.methods}
    assert posts == tried
    assert screen.client.get("/health").json["entries"] == entries
