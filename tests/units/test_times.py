"""Durations, instants and days are read as meant, or refused in a sentence."""

from datetime import UTC, date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logbook.errors import InputError
from logbook.times import (
    duration_text,
    epoch_s,
    hours_text,
    local_text,
    parse_day,
    parse_duration_s,
    parse_instant,
    utc_from_epoch_s,
    utc_parse,
    utc_text,
)

CHICAGO = ZoneInfo("America/Chicago")
ZONES = [
    ZoneInfo(name)
    for name in (
        "America/Chicago",
        "America/St_Johns",
        "Europe/London",
        "Australia/Lord_Howe",
        "Pacific/Apia",
        "Asia/Kathmandu",
        "America/Phoenix",
        "UTC",
    )
]
# 2026-03-02 14:30:45 UTC is 08:30:45 in Chicago.
NOW = datetime(2026, 3, 2, 14, 30, 45, 999_999, tzinfo=UTC)
walls = st.datetimes(
    min_value=datetime(1975, 1, 1),  # noqa: DTZ001  Hypothesis wants bounds without a zone.
    max_value=datetime(2199, 1, 1),  # noqa: DTZ001
)
instants = walls.map(lambda wall: wall.replace(tzinfo=UTC))


def at(text: str, zone: ZoneInfo = CHICAGO) -> datetime:
    return parse_instant(text, zone, NOW)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1h35", 5700),
        ("1h35min", 5700),
        ("1 h 35 min", 5700),
        ("95min", 5700),
        ("1:35", 5700),
        ("01:35", 5700),
        ("90 s", 90),
        ("10s", 10),
        ("2h", 7200),
        ("2H", 7200),
        ("2.5h", 9000),
        ("0.5 min", 30),
        ("1h 5 s", 3605),
        ("95min 20s", 5720),
        ("1h5", 3900),
        ("2 hours", 7200),
        ("5 mins", 300),
        ("0s", 0),
        ("100:00", 360_000),
    ],
)
def test_durations_are_read_as_a_hand_writes_them(text: str, seconds: int) -> None:
    assert parse_duration_s(text) == seconds


def test_a_decimal_hour_is_a_fraction_of_an_hour_and_never_minutes() -> None:
    assert parse_duration_s("2.21h") == 2 * 3600 + 756
    assert parse_duration_s("2.21h") != parse_duration_s("2h21")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "95",
        "1.5",
        "-5min",
        "1h-5min",
        "1h90",
        "1h60min",
        "1.5h30",
        "1h30.5",
        "1:75",
        "1:5",
        "1:35:20",
        "h",
        "min",
        "35min1h",
        "1h1h",
        "1h0h",
        "1h35 20",
        "2.333h",
        "9.6s",
        "1,5h",
        "1e2s",
        "nan h",
        "٩٥min",
        "5 parsecs",
        "1h 35 min ago",
        "9999999999999h",
    ],
)
def test_other_durations_are_refused_with_an_example(text: str) -> None:
    with pytest.raises(InputError, match=r"^hold .*(1h35, 95min or 10s|write it like 2\.5)$"):
        parse_duration_s(text, "hold")


def test_a_bare_number_is_refused_and_asked_for_its_unit() -> None:
    with pytest.raises(InputError, match="duration 95 needs its unit"):
        parse_duration_s("95")


@given(st.integers(min_value=0, max_value=31 * 86_400))
def test_a_printed_duration_reads_back_as_itself(seconds: int) -> None:
    assert parse_duration_s(duration_text(seconds)) == seconds


@pytest.mark.parametrize(
    ("seconds", "hours", "words"),
    [
        (5700, "1.58", "1 h 35 min"),
        (28_800, "8", "8 h"),
        (0, "0", "0 s"),
        (10, "0", "10 s"),
        (3605, "1", "1 h 5 s"),
        (9000, "2.5", "2 h 30 min"),
        (-5700, "-1.58", "-1 h 35 min"),
    ],
)
def test_durations_print_as_hours_and_as_words(seconds: int, hours: str, words: str) -> None:
    assert hours_text(seconds) == hours
    assert duration_text(seconds) == words


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("now", "2026-03-02T14:30:45Z"),
        ("NOW", "2026-03-02T14:30:45Z"),
        ("7:10", "2026-03-02T13:10:00Z"),
        ("07:10:05", "2026-03-02T13:10:05Z"),
        ("today 7:10", "2026-03-02T13:10:00Z"),
        ("Yesterday  19:10", "2026-03-02T01:10:00Z"),
        ("2026-03-02 07:30", "2026-03-02T13:30:00Z"),
        ("2026-03-02T07:30", "2026-03-02T13:30:00Z"),
        ("2026-03-02t07:30:09", "2026-03-02T13:30:09Z"),
        ("2026-03-02 07:30Z", "2026-03-02T07:30:00Z"),
        ("2026-03-02 07:30 -06:00", "2026-03-02T13:30:00Z"),
        ("2026-03-02T07:30:00+0530", "2026-03-02T02:00:00Z"),
        ("2026-07-02 07:30", "2026-07-02T12:30:00Z"),
    ],
)
def test_instants_are_read_in_the_clinics_zone_and_answered_in_utc(text: str, utc: str) -> None:
    assert utc_text(at(text)) == utc
    assert at(text).tzinfo is UTC


@pytest.mark.parametrize(
    ("text", "wall"),
    [
        ("8:10am", "2026-03-02 08:10"),
        ("8:10 AM", "2026-03-02 08:10"),
        ("1:10pm", "2026-03-02 13:10"),
        ("12:05am", "2026-03-02 00:05"),
        ("12:05 p.m.", "2026-03-02 12:05"),
        ("8am", "2026-03-02 08:00"),
        ("1310", "2026-03-02 13:10"),
        ("710", "2026-03-02 07:10"),
        ("yesterday 1310", "2026-03-01 13:10"),
        ("2026-03-01 7:10pm", "2026-03-01 19:10"),
        ("3/25/2025 7:10", "2025-03-25 07:10"),
        ("25/3/25 7:10", "2025-03-25 07:10"),
        ("3/3/2025 7:10", "2025-03-03 07:10"),
        ("sun 13:10", "2026-03-01 13:10"),
        ("tuesday 13:10", "2026-02-24 13:10"),
        # It is Monday 16:30 there: a Monday's hour that is still to come was last week's.
        ("mon 16:30", "2026-03-02 16:30"),
        ("mon 16:31", "2026-02-23 16:31"),
    ],
)
def test_a_time_is_read_as_a_hand_writes_it(text: str, wall: str) -> None:
    now = datetime(2026, 3, 2, 22, 30, tzinfo=UTC)
    assert local_text(parse_instant(text, CHICAGO, now), CHICAGO) == wall


@pytest.mark.parametrize("text", ["3/2/2026", "3/2/26"])
def test_a_date_that_half_of_the_world_reads_otherwise_is_refused_with_both_readings(
    text: str,
) -> None:
    with pytest.raises(InputError, match=r"two ways; write 2026-02-03 or 2026-03-02$"):
        parse_day(text, CHICAGO, NOW)


def test_a_date_with_slashes_is_read_in_the_order_of_the_clinic() -> None:
    assert parse_day("3/2/2026", CHICAGO, NOW, order="month/day") == date(2026, 3, 2)
    assert parse_day("3/2/26", CHICAGO, NOW, order="day/month") == date(2026, 2, 3)
    read = parse_instant("3/2/2026 7:30", CHICAGO, NOW, order="day/month")
    assert local_text(read, CHICAGO) == "2026-02-03 07:30"
    with pytest.raises(InputError, match="has no month 25; dates are written month/day here"):
        parse_day("25/2/2026", CHICAGO, NOW, order="month/day")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "7",
        "7:1",
        "24:00",
        "7:60",
        "07:30:60",
        "13:10 pm",
        "0:10am",
        "1310pm",
        "7 m",
        "mo 7:10",
        "tomorrow 7:10",
        "yesterday",
        "today",
        "2026-03-02",
        "2026-02-30 07:30",
        "2026-3-2 07:30",
        "3/2/2026 7:30",
        "0026-03-02 07:30",
        "2026-03-02 07:30+15:00",
        "2026-03-02 07:30+05:60",
        "7:10-06:00",
        "today 7:10Z",
        "2026-03-02 07:30:00.5",
        "today7:10",
        "todayt7:10",
        "٧:10",
        "2026-03-02 07:30 CST",
    ],
)
def test_other_instants_are_refused_in_a_sentence_that_names_the_field(text: str) -> None:
    with pytest.raises(InputError, match=r"^started .*(; write|write a date)"):
        parse_instant(text, CHICAGO, NOW, "started")


def test_a_day_alone_is_an_instant_only_when_the_caller_says_which() -> None:
    noon = parse_instant("2026-03-02", CHICAGO, NOW, day_alone_at=time(12))
    assert utc_text(noon) == "2026-03-02T18:00:00Z"
    assert parse_instant("today", CHICAGO, NOW, day_alone_at=time(12)) == noon


@pytest.mark.parametrize(
    ("text", "zone", "valid"),
    [
        ("2026-03-08 02:00", "America/Chicago", "2026-03-08 03:00"),
        ("2026-03-08 02:59:59", "America/Chicago", "2026-03-08 03:00"),
        ("2026-10-04 02:15", "Australia/Lord_Howe", "2026-10-04 02:30"),
        ("2011-12-30 10:00", "Pacific/Apia", "2011-12-31 00:00"),
    ],
)
def test_a_wall_time_that_the_clocks_skip_is_refused_with_the_next_that_exists(
    text: str, zone: str, valid: str
) -> None:
    with pytest.raises(InputError, match=f"does not exist in {zone}.* is {valid}$"):
        at(text, ZoneInfo(zone))
    assert local_text(at(valid, ZoneInfo(zone)), ZoneInfo(zone)) == valid


def test_a_wall_time_that_comes_twice_is_refused_and_the_offset_settles_it() -> None:
    with pytest.raises(InputError) as refusal:
        at("2026-11-01 01:30")
    first, second = "2026-11-01 01:30-05:00", "2026-11-01 01:30-06:00"
    assert f"{first} is the first, {second} the second" in str(refusal.value)
    assert at(second) - at(first) == timedelta(hours=1)


@pytest.mark.parametrize("sign", ["+", "-"])
def test_an_offset_of_fourteen_hours_is_read_and_none_beyond(sign: str) -> None:
    ahead = timedelta(hours=14 if sign == "+" else -14)
    assert at(f"2026-11-01 01:30{sign}14:00") == at("2026-11-01 01:30Z") - ahead
    for beyond in ("14:01", "14:00:01", "13:60"):
        with pytest.raises(InputError, match="has no possible offset"):
            at(f"2026-11-01 01:30{sign}{beyond}")


def test_the_hour_around_a_change_is_read_up_to_its_edges() -> None:
    assert utc_text(at("2026-03-08 01:59:59")) == "2026-03-08T07:59:59Z"
    assert utc_text(at("2026-03-08 03:00")) == "2026-03-08T08:00:00Z"
    assert utc_text(at("2026-11-01 00:59:59")) == "2026-11-01T05:59:59Z"
    assert utc_text(at("2026-11-01 02:00")) == "2026-11-01T08:00:00Z"


def test_a_wall_time_that_comes_twice_is_printed_with_its_offset_and_no_other_is() -> None:
    for utc, text in (
        ("2026-11-01T05:59:00Z", "2026-11-01 00:59"),
        ("2026-11-01T06:30:00Z", "2026-11-01 01:30-05:00"),
        ("2026-11-01T07:30:00Z", "2026-11-01 01:30-06:00"),
        ("2026-11-01T08:00:00Z", "2026-11-01 02:00"),
    ):
        assert local_text(utc_parse(utc), CHICAGO) == text
        assert at(text) == utc_parse(utc)


@given(instants, st.sampled_from(ZONES))
def test_a_printed_wall_time_reads_back_as_the_same_minute(
    instant: datetime, zone: ZoneInfo
) -> None:
    minute = instant.replace(second=0, microsecond=0)
    assert parse_instant(local_text(instant, zone), zone, NOW) == minute


@given(walls, st.sampled_from(ZONES))
def test_every_wall_time_is_read_as_itself_or_refused(wall: datetime, zone: ZoneInfo) -> None:
    wall = wall.replace(microsecond=0)
    try:
        instant = parse_instant(wall.isoformat(" "), zone, NOW)
    except InputError as refusal:
        assert "does not exist" in str(refusal) or "happens twice" in str(refusal)  # noqa: PT017
    else:
        assert instant.astimezone(zone).replace(tzinfo=None) == wall


@given(instants)
def test_utc_text_and_seconds_of_the_epoch_go_there_and_back(instant: datetime) -> None:
    second = instant.replace(microsecond=0)
    assert utc_parse(utc_text(instant)) == second
    assert utc_from_epoch_s(epoch_s(instant)) == second


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-02T14:30:00",
        "2026-03-02 14:30:00Z",
        "2026-03-02T14:30:00+00:00",
        "",
        "2026-03-02T14:30Z",
        "2026-13-02T14:30:00Z",
        "2026-03-02T24:00:00Z",
        "2026-03-02T14:30:60Z",
        "2026-03-02T14:30:00z",
        "2026-03-02T14:30:00.0Z",
    ],
)
def test_only_one_spelling_of_an_instant_is_read_back(text: str) -> None:
    with pytest.raises(InputError, match="write it like 2026-03-02T14:30:00Z"):
        utc_parse(text)


def test_a_moment_without_a_zone_is_never_guessed_at() -> None:
    naive = datetime(2026, 3, 2, 14, 30)  # noqa: DTZ001  That it has no zone is the point.
    for reader in (utc_text, epoch_s):
        with pytest.raises(ValueError, match="no time zone"):
            reader(naive)
    with pytest.raises(ValueError, match="no time zone"):
        local_text(naive, CHICAGO)
    with pytest.raises(ValueError, match="no time zone"):
        parse_day("today", CHICAGO, naive)


def test_another_offset_of_the_same_moment_prints_the_same() -> None:
    elsewhere = NOW.astimezone(timezone(timedelta(hours=9)))
    assert utc_text(elsewhere) == utc_text(NOW) == "2026-03-02T14:30:45Z"


def test_named_days_are_those_of_the_zone() -> None:
    late = datetime(2026, 3, 2, 3, 0, tzinfo=UTC)
    assert parse_day("today", CHICAGO, late) == date(2026, 3, 1)
    assert parse_day("Yesterday", CHICAGO, late) == date(2026, 2, 28)
    assert parse_day("tomorrow", CHICAGO, late) == date(2026, 3, 2)
    assert parse_day(" 2024-02-29 ", CHICAGO, late) == date(2024, 2, 29)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "3/2/2026",
        "02.03.2026",
        "2026-3-2",
        "20260302",
        "2026-W10-1",
        "2026-02-29",
        "2026-13-01",
        "0202-03-02",
        "2926-03-02",
        "next week",
        "٢٠٢٦-03-02",
    ],
)
def test_other_dates_are_refused_with_an_example(text: str) -> None:
    with pytest.raises(InputError, match=r"^due .*2026-03-02$"):
        parse_day(text, CHICAGO, NOW, "due")


@given(st.text(max_size=30))
def test_no_text_makes_a_reader_of_times_fail_in_any_other_way_than_words(text: str) -> None:
    for read in (
        lambda: parse_duration_s(text, "field"),
        lambda: parse_instant(text, CHICAGO, NOW, "field"),
        lambda: parse_day(text, CHICAGO, NOW, "field"),
        lambda: utc_parse(text),
    ):
        try:
            read()
        except InputError as refusal:
            assert str(refusal).isprintable()  # noqa: PT017
