"""Quantities that a hand writes are read exactly, or refused in a sentence."""

import decimal
from collections.abc import Callable
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.errors import InputError
from logbook.units import (
    MOST_DIGITS,
    format_decimal,
    parse_decimal,
    parse_flow_ml_min,
    parse_mass_g,
    parse_percent,
    parse_pipeline_psi,
    parse_pressure_cmh2o,
    parse_pressure_psi,
    parse_volume_ml,
    shown,
    whole,
)

Reader = Callable[[str, str], Decimal]
READERS: tuple[tuple[Reader, str], ...] = (
    (parse_mass_g, "kg"),
    (parse_volume_ml, "mL"),
    (parse_flow_ml_min, "L/min"),
    (parse_pressure_cmh2o, "cmH2O"),
    (parse_pressure_psi, "psi"),
    (parse_percent, "%"),
)
plain_numbers = st.decimals(min_value=0, max_value=99999, places=3, allow_nan=False)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2.5", "2.5"),
        ("-3", "-3"),
        ("+3", "3"),
        (".5", "0.5"),
        (" 7 ", "7"),
        ("0012", "12"),
        ("-0", "0"),
        ("999999999999", "999999999999"),
    ],
)
def test_a_plain_number_is_read_exactly(text: str, value: str) -> None:
    assert parse_decimal(text, "reading") == Decimal(value)
    assert str(parse_decimal("-0", "reading")) == "0"


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "nan",
        "NaN",
        "inf",
        "-Infinity",
        "sNaN",
        "1e3",
        "1E3",
        "1_000",
        "0x10",
        "2..5",
        "2.",
        ".",
        "+",
        "--2",
        "2-",
        "1/2",
        "2 5",
        "٢",
        "２",
        "²",
        "½",
        "1\n2",
        "1234567890123",
        "0.1234567890123",
    ],
)
def test_anything_but_a_plain_number_is_refused_with_the_field_in_the_sentence(text: str) -> None:
    with pytest.raises(InputError, match=r"^reading .*2\.5$"):
        parse_decimal(text, "reading")


@pytest.mark.parametrize(
    ("read", "text", "value"),
    [
        (parse_pressure_psi, "1,800 psi", "1800"),
        (parse_pressure_psi, "2,000psi", "2000"),
        (parse_pressure_psi, "13,789kPa", "1999.925"),
        # Only 1.8 bar can be a gauge's: 1800 bar is more than any cylinder.
        (parse_pressure_psi, "1,800bar", "26.107"),
        (parse_mass_g, "1,200g", "1200"),
        (parse_mass_g, "1,200kg", "1200"),
        (parse_mass_g, "1,200.5g", "1200.5"),
    ],
)
def test_a_comma_between_thousands_is_read_where_the_other_reading_would_be_absurd(
    read: Callable[[str], Decimal], text: str, value: str
) -> None:
    assert read(text) == Decimal(value)


@pytest.mark.parametrize(
    ("read", "text", "either"),
    [
        (parse_mass_g, "24,500 g", "24500g or 24.5g"),
        (parse_volume_ml, "1,200 mL", "1200mL or 1.2mL"),
        (parse_flow_ml_min, "2,000mL/min", "2000mL/min or 2mL/min"),
        (parse_pressure_psi, "1,250bar", "1250bar or 1.25bar"),
        (parse_pressure_psi, "5,001psi", "5001psi or 5.001psi"),
    ],
)
def test_a_comma_that_can_be_read_in_two_ways_is_refused_with_both(
    read: Callable[[str], Decimal], text: str, either: str
) -> None:
    with pytest.raises(InputError, match=f"can be read in two ways; write {either}$"):
        read(text)


@pytest.mark.parametrize(("text", "value"), [("200psi", "200"), ("13.78bar", "199.862")])
def test_the_highest_pressure_of_a_pipeline_is_read(text: str, value: str) -> None:
    assert parse_pipeline_psi(text) == Decimal(value)


@pytest.mark.parametrize("text", ["200.001psi", "125bar", "1800psi"])
def test_a_cylinders_pressure_at_the_pipeline_asks_whether_the_cylinder_was_meant(
    text: str,
) -> None:
    with pytest.raises(InputError, match=f"^pipeline {text} .* did you mean the cylinder\\?$"):
        parse_pipeline_psi(text, "pipeline")


def test_a_comma_is_refused_and_the_sentence_shows_the_dot() -> None:
    with pytest.raises(InputError, match=r"reading 2,5 has a comma; write it like 2\.5"):
        parse_decimal("2,5", "reading")
    with pytest.raises(InputError, match=r"weight 2,5kg has a comma; write a dot, like 2\.5"):
        parse_mass_g("2,5kg")


@given(plain_numbers)
def test_a_printed_number_reads_back_as_itself(number: Decimal) -> None:
    assert parse_decimal(format_decimal(number), "reading") == number


@given(st.text(max_size=30))
def test_no_text_makes_a_reader_fail_in_any_other_way_than_words(text: str) -> None:
    for reader, _ in READERS:
        try:
            value = reader(text, "field")
        except InputError as refusal:
            assert str(refusal).startswith("field")  # noqa: PT017
            assert str(refusal).isprintable()  # noqa: PT017
        else:
            assert value.is_finite()
            assert value >= 0


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("24kg", "24000"),
        ("24 KG", "24000"),
        ("53lb", "24040.39561"),
        ("53 lbs", "24040.39561"),
        ("16oz", "453.59237"),
        ("350 g", "350"),
        (".5kg", "500"),
        ("0g", "0"),
    ],
)
def test_weights_become_grams_exactly(text: str, grams: str) -> None:
    assert parse_mass_g(text) == Decimal(grams)


@pytest.mark.parametrize(
    ("text", "ml"), [("250mL", "250"), ("250 ml", "250"), ("5cc", "5"), ("1.5 L", "1500")]
)
def test_volumes_become_millilitres(text: str, ml: str) -> None:
    assert parse_volume_ml(text) == Decimal(ml)


@pytest.mark.parametrize(
    ("text", "ml_min"),
    [("200mL/min", "200"), ("1.5 L/min", "1500"), ("2lpm", "2000"), ("0 ml/min", "0")],
)
def test_flows_become_millilitres_a_minute(text: str, ml_min: str) -> None:
    assert parse_flow_ml_min(text) == Decimal(ml_min)


@pytest.mark.parametrize(
    ("text", "cmh2o"),
    [
        ("30cmH2O", "30"),
        ("30 CMH2O", "30"),
        ("3kPa", "30.591"),
        ("30mbar", "30.591"),
        ("20 mmHg", "27.19"),
    ],
)
def test_breathing_system_pressures_become_cmh2o(text: str, cmh2o: str) -> None:
    assert parse_pressure_cmh2o(text) == Decimal(cmh2o)


@pytest.mark.parametrize(
    ("text", "psi"),
    [
        ("2000psi", "2000"),
        ("50 psig", "50"),
        ("100bar", "1450.377"),
        ("14 MPa", "2030.528"),
        ("345kPa", "50.038"),
    ],
)
def test_cylinder_pressures_become_psi(text: str, psi: str) -> None:
    assert parse_pressure_psi(text) == Decimal(psi)


@pytest.mark.parametrize(
    ("text", "percent"), [("2", "2"), ("2%", "2"), ("2.5 %", "2.5"), ("0", "0"), ("100%", "100")]
)
def test_percents_need_no_sign(text: str, percent: str) -> None:
    assert parse_percent(text) == Decimal(percent)


@pytest.mark.parametrize("text", ["101", "-1", "100.001%", "2%%", "%", "2 vol"])
def test_percents_outside_of_0_to_100_are_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"^dial "):
        parse_percent(text, "dial")


@pytest.mark.parametrize(("reader", "unit"), READERS[:-1])
def test_a_quantity_without_its_unit_is_refused_and_told_which_fit(
    reader: Reader, unit: str
) -> None:
    with pytest.raises(InputError, match=rf"field 24 is not .*: it needs its unit; use .*{unit}"):
        reader("24", "field")


@pytest.mark.parametrize(
    ("reader", "text", "fits"),
    [
        (parse_mass_g, "24mL", "g, kg, lb or oz"),
        (parse_mass_g, "24x", "g, kg, lb or oz"),
        (parse_mass_g, "1e3kg", "g, kg, lb or oz"),
        (parse_volume_ml, "3kg", "mL or L"),
        (parse_flow_ml_min, "3L", "mL/min or L/min"),
        (parse_flow_ml_min, "3L/h", "mL/min or L/min"),
        (parse_pressure_cmh2o, "30psi", "cmH2O, kPa, mbar or mmHg"),
        (parse_pressure_psi, "30cmH2O", "psi, bar, kPa or MPa"),
    ],
)
def test_a_unit_that_does_not_fit_is_refused_in_a_sentence_that_names_what_fits(
    reader: Reader, text: str, fits: str
) -> None:
    with pytest.raises(InputError, match=f"does not fit; use {fits}"):
        reader(text, "field")


@pytest.mark.parametrize(("reader", "unit"), READERS[:-1])
def test_nothing_below_zero_is_read_as_a_quantity(reader: Reader, unit: str) -> None:
    with pytest.raises(InputError, match="below zero"):
        reader(f"-1{unit}", "field")


@pytest.mark.parametrize(
    ("text", "either"),
    [("1.800 psi", "1800 psi or 1.8 psi"), ("12.400kPa", "12400kPa or 12.4kPa")],
)
def test_a_dot_that_may_part_thousands_is_refused_with_both(text: str, either: str) -> None:
    with pytest.raises(InputError, match=f"can be read in two ways; write {either}$"):
        parse_pressure_psi(text, "cylinder")


@pytest.mark.parametrize("text", ["1.801psi", "55.000psi", "0.800psi", "1.80psi", "124.000bar"])
def test_a_dot_before_decimals_is_read_as_one(text: str) -> None:
    assert parse_pressure_psi(text, "cylinder") == parse_pressure_psi(text.replace("000", "0"), "")


@pytest.mark.parametrize(("reader", "unit"), READERS)
@given(low=plain_numbers, more=plain_numbers)
def test_a_larger_number_is_never_a_smaller_quantity(
    reader: Reader, unit: str, low: Decimal, more: Decimal
) -> None:
    if unit == "%":
        low, more = low / 2000, more / 2000
    first, second = (
        reader(f"{format_decimal(number)}{unit}", "field") for number in (low, low + more)
    )
    assert first <= second


def test_letters_that_only_look_like_a_unit_are_refused() -> None:
    for text in ("24 \N{KELVIN SIGN}g", "24 \N{CYRILLIC SMALL LETTER KA}g", "24 ｋｇ", "24㎏"):
        with pytest.raises(InputError, match=r"weight 24.* is not a weight"):
            parse_mass_g(text)


def test_a_callers_own_precision_does_not_change_a_reading() -> None:
    with decimal.localcontext(prec=3):
        assert parse_mass_g("53lb") == Decimal("24040.39561")
        assert parse_pressure_cmh2o("3kPa") == Decimal("30.591")


def test_an_error_sentence_stays_on_one_line_and_short_whatever_was_typed() -> None:
    with pytest.raises(InputError) as refusal:
        parse_mass_g("kg" * 500 + "\x1b[2J\n")
    assert len(str(refusal.value)) < 250
    assert str(refusal.value).isprintable()
    assert shown("a\x1bb\nc") == "a?b?c"
    assert shown("x" * 40) == "x" * 40
    assert shown("x" * 41) == "x" * 37 + "..."


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("1E+3", None, "1000"),
        ("2.500", None, "2.5"),
        ("0.000", None, "0"),
        ("-0.00", None, "0"),
        ("100", None, "100"),
        ("1E-7", None, "0.0000001"),
        ("2.5", 2, "2.50"),
        ("2.5", 0, "2"),
        ("3.5", 0, "4"),
        ("-0.004", 2, "0.00"),
        ("-1.005", 2, "-1.00"),
    ],
)
def test_numbers_print_plainly(value: str, places: int | None, text: str) -> None:
    assert format_decimal(Decimal(value), places) == text


def test_the_caller_chooses_which_way_a_printed_number_rounds() -> None:
    assert format_decimal(Decimal("2.341"), 2, ROUND_CEILING) == "2.35"
    assert format_decimal(Decimal("2.349"), 2, ROUND_FLOOR) == "2.34"
    assert whole(Decimal("2.5")) == 2
    assert whole(Decimal("2.9"), ROUND_FLOOR) == 2


@pytest.mark.parametrize("value", ["NaN", "Infinity"])
def test_what_is_not_a_number_is_never_printed(value: str) -> None:
    with pytest.raises(ValueError, match="cannot be printed"):
        format_decimal(Decimal(value))


def test_twelve_digits_are_read_and_thirteen_are_not() -> None:
    assert parse_decimal("1" * MOST_DIGITS, "reading") == Decimal("1" * MOST_DIGITS)
    with pytest.raises(InputError, match="more than 12 digits"):
        parse_decimal("1" * (MOST_DIGITS + 1), "reading")
