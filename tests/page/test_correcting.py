"""An entry is corrected or withdrawn at the page, with a reason, by who may."""

import re
from collections.abc import Callable

import pytest

from logbook.office.pins import Pins
from logbook.page.world import World
from tests.conftest import Ran
from tests.page.conftest import Screen


def fields_of(html: str) -> list[tuple[str, str]]:
    """The fields that say what the entry says, with what stands in them."""
    return re.findall(r'name="(now-\w+)"[^>]*value="([^"]*)"', html)


@pytest.fixture
def change(screen: Screen, bay1: Callable[..., Ran]) -> int:
    """The number of an absorbent change that KO recorded."""
    assert bay1("absorbent", "change", "bay1", "--lot", "A17", "--mass", "1.2kg").code == 0
    return int(bay1("history", "bay1", "--json").json["entries"][-1]["entry"])


def test_a_field_is_told_anew_and_the_entry_stays_readable(
    screen: Screen, change: int, bay1: Callable[..., Ran]
) -> None:
    screen.sign()
    assert screen.get(f"/entry/{change}") == 200
    assert f'href="/entry/{change}/correct"' in screen.html
    screen.get(f"/entry/{change}/correct")
    assert 'value="A17"' in screen.html
    assert 'value="1.2 kg"' in screen.html
    present = dict(fields_of(screen.html))
    told = present | {"now-lot": "B2", "reason": "misread"}
    assert screen.send(f"/entry/{change}/correct", **told) == 200
    assert f"Saved entry {change + 1}" in screen.says
    screen.get(f"/entry/{change}")
    assert "<s>" in screen.html
    assert "misread" in screen.says
    every = bay1("history", "bay1", "--json").json["entries"]
    (body,) = [one["now_says"] for one in every if one["now_says"]]
    assert "B2" in body
    assert "1200 g" in body


def test_an_entry_is_withdrawn_with_a_reason_alone(
    screen: Screen, change: int, bay1: Callable[..., Ran]
) -> None:
    screen.sign()
    assert screen.send(f"/entry/{change}/withdraw", reason="") == 422
    assert "The reason is not told; say why." in screen.says
    assert screen.send(f"/entry/{change}/withdraw", reason="wrong machine") == 200
    assert "withdrawn" in bay1("history", "bay1").out
    screen.get(f"/entry/{change}")
    assert f'href="/entry/{change}/correct"' not in screen.html


def test_what_another_signed_is_corrected_by_a_lead_alone(
    screen: Screen, world: World, change: int, bay1: Callable[..., Ran]
) -> None:
    assert bay1("staff", "add", "RT", "Robin").code == 0
    Pins.beside(world.office.ledger).make("RT", "sign", "111222")
    screen.sign("RT", "111222")
    screen.get(f"/entry/{change}/correct")
    assert "KO signed this entry. KO or a lead may correct it." in screen.says
    assert "<form" not in screen.html
    for act in ("withdraw", "correct"):
        assert screen.send(f"/entry/{change}/{act}", reason="mine", now_lot="B2") == 403
    Pins.beside(world.office.ledger).make("RT", "lead", "111222")
    screen.sign("RT", "111222")
    assert screen.send(f"/entry/{change}/withdraw", reason="typed twice") == 200


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"reason": "why"}, "Nothing was changed"),
        ({"now-lot": "B2"}, "reason is not told"),
        ({"now-lot": "B2", "reason": "x", "happened": "25:00"}, "not a time"),
        ({"now-expiry": "soon", "now-lot": "A17", "reason": "x"}, "is not a date"),
    ],
)
def test_what_makes_no_sense_is_refused_and_what_was_typed_stays(
    screen: Screen, change: int, fields: dict[str, str], words: str
) -> None:
    screen.sign()
    page = screen.get(f"/entry/{change}/correct")
    assert page == 200
    present = dict(fields_of(screen.html))
    assert screen.send(f"/entry/{change}/correct", **(present | fields)) == 422
    assert words in screen.says
    assert "Nothing was saved." in screen.says
    for name, value in fields.items():
        if name.startswith("now-"):
            assert f'name="{name}" autocomplete' in screen.html
            assert f'value="{value}"' in screen.html


def test_an_entry_that_is_not_there_is_not_corrected(screen: Screen) -> None:
    screen.sign()
    assert screen.get("/entry/999/correct") in (404, 422)
    assert screen.send("/entry/999/withdraw", reason="x") == 404
