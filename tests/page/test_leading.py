"""What a lead alone does at the page, and where a refusal leads on."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest

from logbook.page.world import World
from tests.conftest import Ran
from tests.page.conftest import PIN, Clocks, Screen

LEADS: dict[str, tuple[dict[str, str], str]] = {
    "/machine/bay1/plan": (
        {"item": "service", "every": "12 months", "run_hours": "500", "last": "2026-01-31"},
        "bay1 service planned, every 12 months, every 500 run hours, last done 2026-01-31",
    ),
    "/vaporizer/iso1/plan": (
        {"item": "output verification", "every": "P12M", "source": "the maker's instructions"},
        "iso1 output verification planned",
    ),
    "/rules/absorbent-hours": ({"value": "6", "reason": "hospital policy"}, "6"),
    "/rules/leak-flow": (
        {"value": "150", "reason": "maker's instructions", "machine": "bay1", "source": "p. 12"},
        "150",
    ),
    "/rules/absorbent-counts-non-rebreathing": ({"value": "1", "reason": "to be careful"}, "yes"),
}


@pytest.fixture
def led(screen: Screen, world: World) -> Screen:
    world.signing.pins.make("KO", "lead", PIN)
    screen.sign()
    return screen


@pytest.mark.parametrize("path", LEADS)
def test_a_lead_records_it_and_nobody_else(screen: Screen, world: World, path: str) -> None:
    fields, words = LEADS[path]
    screen.sign()
    assert screen.get(path) == 200
    assert "A lead does this; KO signs here now." in screen.says
    assert 'method="post"' not in screen.html
    assert screen.send(path, **fields) == 403
    assert "Nothing was saved: KO signs here, and a lead does this." in screen.says
    assert f'name="kept.{next(iter(fields))}"' in screen.html
    assert screen.client.get("/health").json["entries"] == 5
    world.signing.pins.make("KO", "lead", PIN)
    screen.sign()
    assert screen.send(path, **fields) == 200, screen.says
    assert "Saved entry 6" in screen.says
    assert words in screen.says


def test_a_unit_comes_back_by_a_lead_on_evidence(led: Screen, bay1: Callable[..., Ran]) -> None:
    led.send("/machine/bay1/fault", what="leak", take_out="yes")
    led.get("/machine/bay1/back")
    assert "Nothing is recorded since that could bring it back" in led.says
    assert bay1("service", "done", "bay1", "service", "--outcome", "passed").code in (0, 3)
    evidence = str(led.client.get("/health").json["entries"])
    led.get("/machine/bay1/back")
    assert f"Entry {evidence}: bay1 service passed" in led.says
    fields = {"evidence_entry": evidence, "remark": "new hose"}
    assert led.send("/machine/bay1/back", **fields) == 200, led.says
    assert "Saved entry" in led.says
    led.get("/machine/bay1")
    assert "bay1 back in service on entry 7, new hose" in led.says
    assert "Out of service" not in led.says


@pytest.mark.parametrize(
    ("path", "fields", "why"),
    [
        ("/machine/bay1/plan", {"item": "service"}, "needs an interval"),
        ("/machine/bay1/plan", {"every": "12 months"}, "item"),
        ("/machine/bay1/plan", {"item": "service", "every": "soon"}, "soon"),
        ("/machine/bay1/plan", {"item": "service", "run_hours": "-1"}, "run"),
        ("/rules/absorbent-hours", {"value": "six", "reason": "x"}, "six"),
        ("/rules/absorbent-hours", {"value": "6"}, "reason"),
        ("/rules/absorbent-hours", {"reason": "x"}, "value"),
        ("/rules/absorbent-hours", {"value": "-1", "reason": "x"}, "-1"),
        ("/rules/leak-flow", {"value": "0", "reason": "x"}, "leak-flow"),
        ("/rules/leak-flow", {"value": "9", "reason": "x", "machine": "bay9"}, "bay9"),
    ],
)
def test_what_makes_no_sense_is_refused_and_stays_typed(
    led: Screen, path: str, fields: dict[str, str], why: str
) -> None:
    assert led.send(path, **fields) == 422
    assert "Nothing was saved." in led.says
    assert why in led.says
    assert led.client.get("/health").json["entries"] == 5


def test_the_limits_in_force_stand_with_their_sources(led: Screen) -> None:
    led.send("/rules/absorbent-hours", value="6", reason="hospital policy")
    assert led.get("/rules") == 200
    assert "6 h: Change the absorbent after this much use" in led.says
    assert "hospital policy" in led.says
    assert "FDA, Anesthesia Apparatus Checkout 1993" in led.says
    assert led.get("/rules/no-such-limit") == 404
    assert led.send("/rules/no-such-limit", value="1", reason="x") == 404


def test_a_refusal_leads_on_to_what_would_do(screen: Screen, bay1: Callable[..., Ran]) -> None:
    screen.sign()
    begin = {"pop_off": "open", "circuit": "adult"}
    assert screen.send("/machine/bay1/begin", **begin) == 200
    assert screen.send("/machine/bay1/begin", **begin) == 422
    found = re.search(r'href="(/find[^"]+)">End case<', screen.html)
    assert found, screen.html
    assert screen.get(found[1].replace("&amp;", "&")) == 200
    assert "The case has run for" in screen.says
    assert screen.get("/find?tag=bay1&act=../../who") == 200
    assert "Every reason" in screen.says


def test_the_logbook_is_verified_at_the_page_and_its_head_stands_in_words_and_as_a_code(
    screen: Screen, world: World, bay1: Callable[..., Ran]
) -> None:
    head = bay1("checkpoint", "--json").json["checkpoint"]["head"]
    groups = " ".join(head[at : at + 4] for at in range(0, 64, 4))
    assert screen.get("/proof") == 200
    assert groups in screen.says
    assert screen.html.count("<svg") == 1
    assert screen.send("/proof") == 401
    screen.sign()
    assert screen.send("/proof") == 200
    assert "Verified: 5 entries, whole and unchanged." in screen.says
    ledger = world.office.ledger
    whole = ledger.read_bytes()
    ledger.write_bytes(whole.replace(b"serial", b"sorial", 1))
    screen.send("/proof")
    assert "Verified:" not in screen.says
    assert str(ledger) not in screen.html
    assert ledger.name not in screen.says
    ledger.write_bytes(whole)


def test_at_the_end_of_the_day_the_board_tells_what_is_left_of_it(
    screen: Screen, clocks: Clocks
) -> None:
    screen.sign()
    assert screen.get("/") == 200
    assert "Before you go home" not in screen.says
    screen.send("/machine/bay1/begin", pop_off="open", circuit="adult", at="14:30")
    clocks.now += timedelta(minutes=5)
    for path in ("/", "/wall"):
        screen.get(path)
        assert "Before you go home" in screen.says
        assert "bay1: a case still runs, for 1 h 35 min" in screen.says
        assert "bay1: used today before a daily check had passed (1 case)" in screen.says
    clocks.now -= timedelta(hours=1)
    screen.get("/")
    assert "Before you go home" not in screen.says
