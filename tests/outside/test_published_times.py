"""Instants against the examples of standards and the dates on which clocks were changed."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from logbook.errors import InputError
from logbook.times import (
    duration_text,
    epoch_s,
    local_text,
    parse_duration_s,
    parse_instant,
    utc_from_epoch_s,
    utc_text,
)

NOW = datetime(2026, 3, 2, tzinfo=UTC)
NEW_YORK = ZoneInfo("America/New_York")


def test_rfc_3339_section_5_8_its_pacific_example_is_the_utc_it_names() -> None:
    instant = parse_instant("1996-12-19T16:39:57-08:00", ZoneInfo("UTC"), NOW)
    assert utc_text(instant) == "1996-12-20T00:39:57Z"


@pytest.mark.parametrize(
    ("seconds", "utc"),
    [
        (0, "1970-01-01T00:00:00Z"),
        (1_000_000_000, "2001-09-09T01:46:40Z"),
        (2**31 - 1, "2038-01-19T03:14:07Z"),
        (-(2**31), "1901-12-13T20:45:52Z"),
        (4_102_444_800, "2100-01-01T00:00:00Z"),
    ],
)
def test_posix_seconds_since_the_epoch_are_the_well_known_instants(seconds: int, utc: str) -> None:
    assert utc_text(utc_from_epoch_s(seconds)) == utc
    assert epoch_s(utc_from_epoch_s(seconds)) == seconds


@pytest.mark.parametrize(
    ("zone", "wall", "what"),
    [
        # US Energy Policy Act of 2005: from 2007 on, second Sunday of March, first of November.
        ("America/New_York", "2007-03-11 02:30", "does not exist"),
        ("America/New_York", "2007-11-04 01:30", "happens twice"),
        # Before that, Uniform Time Act as amended in 1986: first Sunday of April, last of October.
        ("America/New_York", "2006-04-02 02:30", "does not exist"),
        ("America/New_York", "2006-10-29 01:30", "happens twice"),
        # European Directive 2000/84/EC: last Sundays of March and October, at 01:00 UTC.
        ("Europe/Berlin", "2026-03-29 02:30", "does not exist"),
        ("Europe/London", "2026-10-25 01:30", "happens twice"),
        # Samoa crossed the date line and had no 30 December 2011.
        ("Pacific/Apia", "2011-12-30 12:00", "does not exist"),
    ],
)
def test_clock_changes_that_laws_set_are_known(zone: str, wall: str, what: str) -> None:
    with pytest.raises(InputError, match=what):
        parse_instant(wall, ZoneInfo(zone), NOW)


def test_arizona_keeps_its_clocks_and_reads_every_hour() -> None:
    phoenix = ZoneInfo("America/Phoenix")
    for wall in ("2026-03-08 02:30", "2026-11-01 01:30"):
        assert local_text(parse_instant(wall, phoenix, NOW), phoenix) == wall


def test_rfc_5545_section_3_8_5_3_nine_in_new_york_stays_nine_across_october_1997() -> None:
    days = ("1997-10-24", "1997-10-26", "1997-10-28")
    instants = [parse_instant(f"{day} 09:00", NEW_YORK, NOW) for day in days]
    assert [utc_text(each)[11:] for each in instants] == ["13:00:00Z", "14:00:00Z", "14:00:00Z"]
    assert [local_text(each, NEW_YORK)[11:] for each in instants] == ["09:00"] * 3


def test_the_published_error_that_2_21_h_are_2_hours_21_minutes_is_not_repeated() -> None:
    assert parse_duration_s("2.21h") != parse_duration_s("2 h 21 min")
    assert duration_text(parse_duration_s("2.21h")) == "2 h 12 min 36 s"
