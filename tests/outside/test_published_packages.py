"""Codes on packages: GS1's published checks, and codes drawn and read by another library.

Sources: GS1 Barcode Syntax Dictionary and its reference checks ``yymmd0``, ``csum`` and ``cset82``
(GS1 AISBL 2022-2024, Apache License 2.0; github.com/gs1/gs1-syntax-engine, read): the values below
are those of their own tests. ZXing-C++ draws GS1 symbols from bracketed text and reads them as a
scanner does.
"""

from collections.abc import Callable
from contextlib import suppress
from datetime import date

import pytest
import zxingcpp

from logbook.errors import InputError
from logbook.page.scanned import read_package
from tests.conftest import Ran
from tests.page.conftest import Screen, clocks, screen, world

__all__ = ["clocks", "screen", "world"]  # Fixtures of the page's own tests.

TODAY = date(2021, 6, 1)
"""In the year for which the published tests are written."""
DAYS = {
    "000606": "2000-06-06", "250606": "2025-06-06", "500606": "2050-06-06", "750606": "1975-06-06",
    "990606": "1999-06-06", "200131": "2020-01-31", "200229": "2020-02-29", "200430": "2020-04-30",
    "210228": "2021-02-28", "240229": "2024-02-29", "000229": "2000-02-29", "960229": "1996-02-29",
    "200600": "2020-06-30",
}  # fmt: skip
NO_DAYS = (
    "x00131", "2x0131", "20x131", "200x31", "2001x1", "20013x", "1", "11111", "1111111", "200010",
    "201310", "209910", "200132", "200230", "200332", "200431", "200532", "200631", "200732",
    "200832", "200931", "201032", "201131", "201232", "210229", "220229", "230229", "240230",
    "000230", "040230", "960230",
)  # fmt: skip
CASES = {
    "(01)12345678901231(10)ABC-7/x": ("ABC-7/x", ""),
    "(01)05060917510011(10)628S93R(17)241000": ("628S93R", "2024-10-31"),
    "(01)05060917510011(17)271231(10)628S93R(21)8898847482518646": ("628S93R", "2027-12-31"),
    "(01)05060917510011(11)260101(17)271231(3103)001200(10)LOT_1": ("LOT_1", "2027-12-31"),
    "(01)05060917510011(240)A-17(30)12(17)271231(10)7": ("7", "2027-12-31"),
}


@pytest.mark.parametrize(("digits", "day"), DAYS.items())
def test_a_published_date_is_the_day_that_it_names(digits: str, day: str) -> None:
    assert str(read_package(f"17{digits}", TODAY).expiry) == day


@pytest.mark.parametrize("digits", NO_DAYS)
def test_what_is_published_as_no_date_is_refused(digits: str) -> None:
    with pytest.raises(InputError, match="scan it again"):
        read_package(f"(17){digits}", TODAY)


@pytest.mark.parametrize(("gtin", "right"), [("12345678901231", True), ("12345678901232", False)])
def test_a_check_digit_is_right_where_the_published_test_says_so(gtin: str, right: bool) -> None:
    if right:
        assert read_package(f"01{gtin}10A", TODAY).lot == "A"
    else:
        with pytest.raises(InputError, match="check digit"):
            read_package(f"01{gtin}10A", TODAY)


@pytest.mark.parametrize("sign", [*" #$@[\\]^`{|}~\x01\x7f\x80\xa0é"])
def test_a_sign_outside_the_published_set_is_in_no_lot(sign: str) -> None:
    with suppress(InputError):
        assert sign not in (read_package(f"10AB{sign}17271231", TODAY).lot or "")


@pytest.mark.parametrize(
    ("form", "prefix"), [("DataMatrix", "]d2"), ("Code128", "]C1"), ("QRCode", "]Q3")]
)
def test_what_another_library_draws_and_reads_fills_lot_and_expiry(
    screen: Screen, form: str, prefix: str
) -> None:
    screen.sign()
    for content, (lot, day) in CASES.items():
        drawn = zxingcpp.create_barcode(content, getattr(zxingcpp, form), gs1=True)
        picture = zxingcpp.write_barcode_to_image(drawn, scale=3, add_quiet_zones=True)
        (read,) = zxingcpp.read_barcodes(picture, text_mode=zxingcpp.Plain)
        for typed in (read.text, prefix + read.text, content):
            found = read_package(typed, TODAY)
            assert (found.lot, str(found.expiry or "")) == (lot, day)
        assert screen.send("/vaporizer/iso1/fill", scan=read.text, level_ml="240") == 200
        assert "Nothing is saved yet" in screen.says
        assert f'value="{lot}"' in screen.html
        assert f'value="{day}"' in screen.html
        assert 'value="240"' in screen.html


def test_a_package_that_was_scanned_is_saved_as_the_form_shows_it(
    screen: Screen, bay1: Callable[..., Ran]
) -> None:
    screen.sign()
    screen.send("/machine/bay1/absorbent", scan="010506091751001110628S93R\x1d17260200")
    assert "This package has expired." in screen.says
    assert (
        screen.send("/machine/bay1/absorbent", lot="628S93R", expiry="2026-02-28", scan="") == 200
    )
    assert "This absorbent expired on 2026-02-28" in screen.says
    body = bay1("history", "bay1", "--json").json["entries"][-1]["body"]
    assert (body["lot"], body["expiry"]) == ("628S93R", "2026-02-28")
