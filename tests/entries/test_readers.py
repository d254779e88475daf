"""How a field reads instants, days and exact numbers, each refusal by its sentence."""

from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest

from logbook.entries import model
from logbook.entries.base import Amount, Instant, IsoDay, Part
from logbook.entries.fault import Fault
from logbook.entries.service import OutputVerification
from logbook.errors import InputError, LedgerError, Wrong


class Held(Part):
    """One field of each."""

    at: Instant | None = None
    day: IsoDay | None = None
    number: Amount | None = None


INSTANT = "must be an instant in whole seconds such as 2026-03-02T14:30:00Z"
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    "value",
    [
        NOON.replace(tzinfo=None),
        NOON.replace(microsecond=1),
        "2026-03-02T12:00:00",
        "2026-03-02T12:00:00+00:00",
        "2026-03-02T12:00:00.5Z",
        "noonZ",
        1_772_452_800,
    ],
    ids=str,
)
def test_an_instant_has_a_zone_and_whole_seconds(value: Any) -> None:
    with pytest.raises(InputError) as refused:
        Held.of(at=value)
    assert str(refused.value).endswith(f", but {INSTANT}")


def test_an_instant_of_another_offset_is_the_same_instant() -> None:
    denver = NOON.astimezone(timezone(timedelta(hours=-7)))
    for value in (NOON, denver, "2026-03-02T12:00:00Z"):
        assert Held.of(at=value).at == NOON
        assert Held.of(at=value).at.utcoffset() == timedelta(0)


@pytest.mark.parametrize(("on", "beyond"), [(1900, 1899), (2199, 2200)])
def test_an_instant_lies_in_the_years_of_a_calendar(on: int, beyond: int) -> None:
    assert Held.of(at=NOON.replace(year=on)).at
    with pytest.raises(InputError, match=r", but must lie in the years 1900 to 2199$"):
        Held.of(at=NOON.replace(year=beyond))


@pytest.mark.parametrize("value", ["2026-3-2", "20260302", "2026-02-30", 20_260_302, 1.5], ids=str)
def test_a_day_is_written_in_full(value: Any) -> None:
    with pytest.raises(InputError) as refused:
        Held.of(day=value)
    assert str(refused.value) == f"the day is {value}, but must be a day such as 2026-03-02"


def test_a_day_is_read_from_its_text_and_from_a_date() -> None:
    assert Held.of(day="2026-03-02").day == Held.of(day=date(2026, 3, 2)).day == date(2026, 3, 2)


@pytest.mark.parametrize(
    ("value", "sentence"),
    [
        (1.5, "must be a plain number written as text"),
        (True, "must be a plain number written as text"),
        ("1e3", "must be a plain number such as 2.5"),
        ("nan", "must be a plain number such as 2.5"),
        ("1.1234567", "must be a plain number such as 2.5"),
        ("1234567890123", "must be a plain number such as 2.5"),
        (Decimal("NaN"), "must be a plain number such as 2.5"),
    ],
)
def test_a_number_is_what_a_hand_would_write(value: Any, sentence: str) -> None:
    with pytest.raises(InputError) as refused:
        Held.of(number=value)
    assert str(refused.value) == f"the number is {value}, but {sentence}"


@pytest.mark.parametrize("value", ["1000", 1000, Decimal("1E+3")])
def test_a_number_is_kept_exactly_however_it_comes(value: Any) -> None:
    held = Held.of(number=value)
    assert held.number == 1000
    assert held.model_dump(mode="json")["number"] == "1000"


def test_what_is_missing_was_not_given() -> None:
    with pytest.raises(InputError) as refused:
        model("note").of()
    assert str(refused.value) == "the text is missing"
    assert refused.value.fields == (Wrong("text", "", "fill it in"),)


@pytest.mark.parametrize("name", ["Mars/Olympus", "../Denver"])
def test_a_time_zone_is_one_that_is_known(name: str) -> None:
    with pytest.raises(InputError) as refused:
        model("clinic").of(name="Alder Creek", timezone=name)
    assert str(refused.value) == (
        f"the timezone is {name}, but must be a time zone written like America/Denver"
    )


def test_a_fault_is_told_in_a_word_and_some_take_the_unit_out_of_service() -> None:
    told = Fault.reported("iso1", "tipped", take_out=False)
    assert (told.what, told.stops) == ("tipped", True)
    assert not Fault.reported("iso1", "leak", take_out=False).stops
    assert Fault.reported("iso1", "leak", take_out=True).stops
    with pytest.raises(InputError, match=r"^the what is , but must be 'tipped'"):
        Fault.reported("iso1", take_out=False)


def test_thinner_air_makes_more_of_a_dial() -> None:
    output = {"dial_percent": "1", "measured_percent": "1.5"}
    told = {"vaporizer": "iso1", "outcome": "failed", "outputs": (output,)}
    allowed = {"tolerance_percent": "15", "tolerance_least_percent": "0.05"}
    for air, expected in (({"ambient_kpa": "50.6625"}, 2), ({}, 1)):
        body = model("output_verification").of(design="variable-bypass", **told, **allowed, **air)
        assert isinstance(body, OutputVerification)
        assert body.expected(body.outputs[0]) == expected


def test_an_unknown_kind_is_named() -> None:
    with pytest.raises(LedgerError, match=r"^the ledger holds an entry of the unknown kind 'tea'$"):
        model("tea")
