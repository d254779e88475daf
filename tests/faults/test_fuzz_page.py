"""Requests that no browser of a clinic sends, to every route of the page, made by chance."""

import random
import re
import sqlite3
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from flask import Flask, got_request_exception
from werkzeug.routing import Rule

from logbook.page.app import create_app
from logbook.page.signing import LONGEST_WAIT_S
from logbook.page.world import World
from logbook.proof.verify import verify
from tests.conftest import Ran
from tests.faults.fuzz import LIKELY, NULL_BYTE, ODD
from tests.page.conftest import Clocks, Screen, clocks, world

__all__ = ["clocks", "world"]
REQUESTS = {"quick": 60, "ci": 1_000, "full": 6_000}
PARTS = {
    "noun": ("machine", "vaporizer"),
    "act": ("absorbent", "oxygen", "cylinder", "charcoal", "charcoal-weight", "fault", "note",
            "back", "fill", "level", "fit", "remove", "plan", "x"),
    "name": ("daily", "before-case", "oxygen-failure-alarm", "x"),
    "key": ("bag", "breathing-system-leak", "pop-off-open", "oxygen-alarm-sounds", "x"),
    "seq": ("1", "2", "3", "4", "5", "6", "7", "999999999999"),
}  # fmt: skip
"""What stands at a place of an address; anywhere else stands a unit, or anything."""
ASKED = ("as_of", "since", "until", "all", "code", "q", "weight", "minutes", "saved")
GIVEN = ("at", "reason", "state", "value", "circuit", "pop_off", "weight", "flow", "next")


def anything(chance: random.Random) -> str:
    drawn = chance.random()
    told = chance.choice(LIKELY if drawn < 0.6 else ODD) if drawn < 0.95 else NULL_BYTE
    return told.encode("utf-8", "replace").decode()


def address(rule: Rule, chance: random.Random) -> str:
    def part(found: re.Match[str]) -> str:
        name = found[1].rpartition(":")[2]
        unit = chance.choice(("bay1", "bay1", "iso1", anything(chance)))
        told = chance.choice(PARTS[name]) if name in PARTS else unit
        return quote(told.replace("/", "") or "x")

    return re.sub(r"<([^<>]+)>", part, rule.rule)


def filled(html: str, chance: random.Random) -> dict[str, str]:
    """The fields of the form on a page, and a few that are none, with their values or others."""
    names = sorted({*re.findall(r'name="([\w-]+)"', html)} - {"token", "identity"})
    told = {}
    for name in [*names, *chance.sample(GIVEN, 2)]:
        offered = re.findall(rf'name="{re.escape(name)}"[^>]*value="([^"]*)"', html)
        own = offered and chance.random() < 0.5
        told[name] = chance.choice(offered) if own else anything(chance)
    return told | ({"identity": anything(chance)} if chance.random() < 0.05 else {})


def sent(screen: Screen, rule: Rule, chance: random.Random) -> tuple[int, str, object]:
    """One request: its status, its method, and what was asked or given."""
    path = address(rule, chance)
    methods = rule.methods or set()
    if "POST" in methods and chance.random() < 0.8:
        screen.get(path if "GET" in methods else path.rpartition("/")[0] or "/")
        form = filled(screen.html, chance)
        return screen.send(path, **form), "POST", (path, form)
    query = "&".join(f"{name}={quote(anything(chance))}" for name in chance.sample(ASKED, 2))
    return screen.get(f"{path}?{query}"), "GET", (path, query)


def raised_in(app: Flask) -> list[BaseException]:
    """What the page raises and nobody told in words, from now on."""
    raised: list[BaseException] = []
    app.config["PROPAGATE_EXCEPTIONS"] = False

    def kept(_app: Flask, exception: BaseException, **_more: object) -> None:
        raised.append(exception)

    app.extensions["kept"] = kept  # Signals hold no one who listens.
    got_request_exception.connect(kept, app)
    return raised


def entries(ledger: Path) -> int:
    with closing(sqlite3.connect(ledger)) as raw:
        (count,) = raw.execute("SELECT count(*) FROM entry").fetchone()
    return int(count)


def test_no_request_raises_saves_twice_or_saves_and_says_otherwise(
    world: World, clocks: Clocks, bay1: Callable[..., Ran], ledger: Path, chance: random.Random,
    size: str, report: Callable[[str], None],
) -> None:  # fmt: skip
    app = create_app(world)
    raised, whole, statuses = raised_in(app), ledger.read_bytes(), Counter[int]()
    screen, status = Screen(app.test_client()), 0
    rules = [one for one in sorted(app.url_map.iter_rules(), key=str) if one.endpoint != "static"]
    for number in range(REQUESTS[size]):
        if number % 100 == 0:
            ledger.write_bytes(whole)
        if number % 100 == 0 or status in (401, 429):
            clocks.ticks_s += 2 * LONGEST_WAIT_S  # Wrong PINs cost time.
            screen.sign()
        before = entries(ledger)
        status, method, told = sent(screen, chance.choice(rules), chance)
        added, statuses[status] = entries(ledger) - before, statuses[status] + 1
        assert not raised, (told, raised)
        assert status < 500 or status == 503, (told, status)
        assert added in ((0, 1) if method == "POST" and status < 400 else (0,)), (told, status)
    assert verify(ledger).findings == []
    report(f"requests to the page: {statuses.total()} at {len(rules)} routes, {dict(statuses)}")
