"""PINs beside the ledger: hashed, their owner's alone, and never easy to guess first."""

import json
import stat
from hashlib import scrypt
from pathlib import Path

import pytest

from logbook.errors import InputError, LogbookError
from logbook.office.pins import DIGITS, Pin, Pins


@pytest.fixture
def pins(tmp_path: Path) -> Pins:
    return Pins.beside(tmp_path / "clinic.ledger")


def test_a_pin_fits_its_person_and_no_other_number_does(pins: Pins) -> None:
    typed = pins.make("KO", "sign")
    assert len(typed) == DIGITS
    assert typed.isdigit()
    found = pins.read()["KO"]
    assert found.role == "sign"
    assert found.fits(typed)
    other = f"{(int(typed) + 1) % 10**DIGITS:0{DIGITS}d}"
    assert not any(found.fits(wrong) for wrong in (other, "", f"{typed}0"))


def test_a_guess_costs_what_the_published_list_asks() -> None:
    # OWASP Password Storage Cheat Sheet, scrypt (from memory): N=2^14, r=8, p=5 is the 16 MiB row.
    hashed = scrypt(b"402817", salt=bytes(16), n=16_384, r=8, p=5)
    assert Pin(bytes(16), hashed, "sign").fits("402817")


def test_a_new_pin_takes_the_place_of_the_old_one_and_leaves_those_of_others(pins: Pins) -> None:
    first, others = pins.make("KO", "sign", "402817"), pins.make("RT", "look", "582047")
    key = pins.key()
    pins.make("KO", "lead", "719305")
    found = pins.read()
    assert (found["KO"].fits(first), found["KO"].fits("719305")) == (False, True)
    assert (found["KO"].role, found["RT"].role) == ("lead", "look")
    assert found["RT"].fits(others)
    assert pins.key() == key


def test_the_file_is_its_owners_alone_and_holds_no_pin(pins: Pins) -> None:
    pins.make("KO", "sign", "402817")
    assert stat.S_IMODE(pins.file.stat().st_mode) == 0o600
    assert "402817" not in pins.file.read_text()


@pytest.mark.parametrize("own", ["", "12345", "1234567", "40281a", "٤٠٢٨١٧", "402 17", "-40281"])
def test_a_pin_of_ones_own_is_six_digits(pins: Pins, own: str) -> None:
    with pytest.raises(InputError, match="has 6 digits"):
        pins.make("KO", "sign", own)
    assert not pins.file.exists()


@pytest.mark.parametrize("own", ["000000", "777777", "123456", "987654", "345678"])
def test_a_pin_that_is_guessed_first_is_refused(pins: Pins, own: str) -> None:
    with pytest.raises(InputError, match="guessed first"):
        pins.make("KO", "sign", own)


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{", "[" * 9000, '{"people": 3}', '{"people": {"KO": 3}}', '{"key": 3}',
     '{"people": {"KO": {"salt": "?", "hash": "", "role": "sign"}}}',
     '{"people": {"KO": {"salt": "", "hash": "", "role": "owner"}}}'],
)  # fmt: skip
def test_what_is_no_file_of_pins_holds_none(pins: Pins, text: str) -> None:
    pins.file.write_text(text)
    assert pins.read() == {}
    assert len(pins.key()) >= 32


def test_a_folder_that_takes_no_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match=r"clinic\.ledger\.pins"):
        Pins.beside(tmp_path / "nowhere" / "clinic.ledger").make("KO", "sign")


def test_what_lies_beside_the_ledger_alone_names_its_people(pins: Pins) -> None:
    pins.make("KO", "sign")
    assert set(json.loads(pins.file.read_text())) == {"key", "people"}
