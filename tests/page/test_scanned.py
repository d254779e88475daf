"""What a scanner types: a package into the open form, a label into the field for tags."""

from collections.abc import Callable
from contextlib import suppress
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.errors import InputError
from logbook.page.scanned import read_package
from tests.conftest import Ran
from tests.page.conftest import Screen

TODAY = date(2026, 3, 6)
SIGNS = "ABCXYZabcxyz0123456789-./_%"
lots = st.text(SIGNS, min_size=1, max_size=20)
days = st.integers(-300, 15_000).map(lambda ahead: TODAY + timedelta(days=ahead))
separators = st.sampled_from(["\x1d", "\u241d", "<GS>", "{GS}", "|", "~", "^", "#", "@", "$"])


@given(lots, days, separators)
def test_lot_and_expiry_come_back_in_either_order(lot: str, day: date, separator: str) -> None:
    expiry = f"17{day:%y%m%d}"
    for typed in (
        f"0105060917510011{expiry}10{lot}",
        f"010506091751001110{lot}{separator}{expiry}",
        f"]d2{expiry}10{lot}{separator}21X9",
        f"(10){lot}(17){day:%y%m%d}",
    ):
        found = read_package(typed, TODAY)
        assert (found.lot, found.expiry) == (lot, day)


@given(lots, days)
def test_a_lost_separator_is_refused_and_never_guessed(lot: str, day: date) -> None:
    with pytest.raises(InputError, match="left out what ends the lot"):
        read_package(f"010506091751001110{lot}17{day:%y%m%d}", TODAY)


@given(st.text(max_size=60))
def test_whatever_is_typed_is_read_or_refused_in_words(typed: str) -> None:
    with suppress(InputError):
        found = read_package(typed, TODAY)
        assert found.lot or found.expiry


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("bay1", "is no GS1 element string"),
        ("(21)17", "tells neither lot nor expiry"),
        ("0105060917510012", "check digit"),
        ("]C05060917510011", "is no GS1 element string"),
        ("10A|10B", "is no GS1 element string"),
        ("1727", "is no GS1 element string"),
        ("10" + "A" * 21, "left out what ends the lot"),
        ("(17)271332", "271332 is no day"),
    ],
)
@pytest.mark.parametrize("path", ["/machine/bay1/absorbent", "/vaporizer/iso1/fill"])
def test_a_code_that_cannot_be_read_is_refused_and_what_was_typed_stays(
    screen: Screen, path: str, typed: str, why: str
) -> None:
    screen.sign()
    assert screen.send(path, scan=typed, lot="by hand") == 422
    assert "Nothing was saved." in screen.says
    assert why in screen.says
    assert 'value="by hand"' in screen.html
    assert screen.client.get("/health").json["entries"] == 5


def test_agent_that_had_expired_before_it_was_filled_in_says_so_at_both_doors(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    screen.sign()
    screen.send("/vaporizer/iso1/fill", level_ml="240", expiry="2026-03-05")
    assert "This agent expired on 2026-03-05, before it was filled in" in screen.says
    said = bay1("agent", "fill", "iso1", "--level", "240ml", "--expiry", "2026-03-05")
    assert said.code == 3
    assert "This agent expired on 2026-03-05" in said.out
    assert (
        "expired" not in bay1("agent", "fill", "iso1", "--level", "240ml", "--expiry", "today").out
    )


def test_the_address_on_a_label_opens_the_page_of_its_unit(screen: Screen) -> None:
    for host in ("http://localhost", "https://tablet.local:8443"):
        typed = f"{host}/find?tag=iso1"
        answer = screen.client.get("/find", query_string={"tag": typed})
        assert answer.location == "/vaporizer/iso1"
    assert screen.get("/find?tag=http://localhost/machine/bay9") == 422
    assert screen.get("/find?tag=0105060917510011172712311012") == 422
    assert "a package is scanned into the form of a change or a fill" in screen.says
