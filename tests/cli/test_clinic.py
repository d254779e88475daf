"""What a clinic tells of itself: at its first day, and when it is told anew."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from logbook.country import usual_date_order
from tests.cli.terminals import Terminal, posix
from tests.conftest import Ran

Command = Callable[..., Ran]


@pytest.fixture
def fresh(run_logbook: Command, tmp_path: Path) -> Callable[..., Ran]:
    """The command line of a clinic that has no ledger yet."""

    def command(*arguments: str) -> Ran:
        return run_logbook("--ledger", str(tmp_path / "fresh.ledger"), *arguments)

    return command


def test_a_clinic_tells_its_country_air_and_first_day_and_changes_them_with_a_reason(
    fresh: Command,
) -> None:
    made = fresh(
        "new", "Birch", "--timezone", "America/Toronto", "--country", "canada",
        "--date-order", "day/month", "--altitude", "250ft", "--since", "2/3/2026",
    )  # fmt: skip
    assert "Birch, Canada, time zone America/Toronto, dates begin day/month" in made.out
    assert fresh("staff", "add", "KO", "Day lead").code == 0
    anew = fresh(
        "clinic", "change", "Birch Grove", "--ambient-pressure", "1005hPa", "--because", "a gauge"
    )
    assert anew.code == 0, anew.err
    assert fresh("clinic", "show").out.splitlines() == [
        "Birch Grove",
        "  country: Canada",
        "  time zone: America/Toronto",
        "  dates: 3/2/2026 is read as February 3, day/month",
        "  air: 100.5 kPa",
        "  first day of this logbook: 2026-03-02",
        "  day of the week's list: Friday",
    ]
    told = fresh("clinic", "show", "--json").json["clinic"]
    assert (told["altitude_m"], told["ambient_kpa"]) == (None, "100.5")


def test_what_nobody_told_is_named_and_dates_that_can_be_read_in_two_ways_are_asked_about(
    run_logbook: Command,
) -> None:
    shown = run_logbook("clinic", "show").out
    assert "country: not told" in shown
    assert "air: not told, counted as at the sea" in shown
    assert "first day of this logbook: 2026-01-01" in shown
    refused = run_logbook("due", "--as-of", "3/2/2026")
    assert "write 2026-02-03 or 2026-03-02" in refused.err
    run_logbook("clinic", "change", "--country", "US", "--because", "never told")
    assert "Monday 2026-03-02" in run_logbook("due", "--as-of", "3/2/2026").out


def test_a_country_is_taken_from_the_zone_and_of_a_zone_of_none_nothing_is_taken(
    fresh: Command,
) -> None:
    assert (
        "Birch, Norway, time zone Europe/Oslo"
        in fresh("new", "Birch", "--timezone", "Europe/Oslo").out
    )
    assert "country: Norway" in fresh("clinic", "show").out
    assert "3/2/2026 is read as February 3" in fresh("clinic", "show").out


def test_a_clinic_is_told_anew_only_where_something_changes(fresh: Command) -> None:
    fresh("new", "Birch", "--timezone", "UTC")
    fresh("staff", "add", "KO", "Day lead")
    assert "nothing to change" in fresh("clinic", "change", "--because", "no reason").err
    near = fresh("clinic", "change", "--country", "Norwegia", "--because", "typed")
    assert "did you mean Norway" in near.err
    assert "country" not in fresh("clinic", "change", "--altitude", "10m", "--because", "x").err
    assert "country: not told" in fresh("clinic", "show").out


@contextmanager
def at_a_terminal(path: Path, *arguments: str) -> Iterator[Terminal]:
    started = Terminal(path, *arguments)
    try:
        yield started
    finally:
        started.close()


@posix
def test_a_new_clinic_is_asked_what_no_option_told(tmp_path: Path, run_logbook: Command) -> None:
    path = tmp_path / "asked.ledger"
    with at_a_terminal(path, "new", "Birch", "--timezone", "America/Denver") as desk:
        desk.read_to("Country [United States]: ")
        desk.asks("Atlantis", "Country [United States]: ")
        desk.asks("", "[month/day]: ")
        desk.asks("", "not known)?: ")
        desk.asks("high", "not known)?: ")
        desk.asks("5280 ft", "Saved entry 1")
        assert desk.ends() == 0
    shown = run_logbook("--ledger", str(path), "clinic", "show").out
    assert "country: United States" in shown
    assert "air: 1609.3 m above the sea" in shown


@pytest.mark.parametrize(
    ("country", "order"),
    [
        # Unicode CLDR, as Babel 2.18 gives it: en_US M/d/yy, en_GB dd/MM/y, de dd.MM.yy,
        # nb dd.MM.y, en_AU d/M/yy, en_PH M/d/yy, en_CA y-MM-dd, sv y-MM-dd, ja y/MM/dd.
        ("US", "month/day"), ("GB", "day/month"), ("DE", "day/month"), ("NO", "day/month"),
        ("AU", "day/month"), ("PH", "month/day"), ("CA", None), ("SE", None), ("JP", None),
        (None, None),
    ],
)  # fmt: skip
def test_the_usual_order_of_a_country_is_that_of_the_common_locale_data(
    country: str | None, order: str | None
) -> None:
    assert usual_date_order(country) == order
