"""The week's list: what stands against each machine, what to order, whom to book."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from logbook.arithmetic.forecast import Quantiles, quantiles
from tests.conftest import ZONE, Ran

Command = Callable[..., Ran]
Clock = Callable[[datetime], None]


@pytest.fixture
def clinic(run_logbook: Command, clock: Clock) -> Command:
    """Two machines with six weeks of use on Friday 2026-03-06 at 16:00: bay1 an hour each workday,
    bay2 two hours each Wednesday."""
    clock(datetime(2026, 1, 19, 7, tzinfo=ZONE))
    for words in (
        "machine add bay1 --absorbent 1200g",
        "machine add bay2 --absorbent 900g --scavenging charcoal",
        "vaporizer add iso1 --agent isoflurane --capacity 250ml --low-mark 25ml --fit bay1",
        "agent fill iso1 --level 250ml",
        "charcoal change bay2",
        "absorbent change bay2",
        "service plan bay1 service --every P6M --last 2025-12-01",
        "service plan iso1 verification --every P12M --last 2025-03-01",
    ):
        assert run_logbook(*words.split()).saved, words
    day = date(2026, 1, 19)
    while day <= date(2026, 3, 6):
        clock(datetime(day.year, day.month, day.day, 15, tzinfo=ZONE))
        if day == date(2026, 3, 4):
            assert run_logbook("absorbent", "change", "bay1", "--at", "7:00").saved
        if day.weekday() < 5:
            log(run_logbook, "bay1", day, 60)
        if day.weekday() == 2:
            log(run_logbook, "bay2", day, 120)
        day += timedelta(days=1)
    clock(datetime(2026, 3, 6, 16, tzinfo=ZONE))
    return run_logbook


def log(run: Command, machine: str, day: date, minutes: int) -> None:
    words = f"case log {machine} --began {day}T08:00 --ran {minutes}min --circuit adult"
    ran = run(*words.split(), "--flow", "1L/min", "--dial", "2")
    assert ran.saved, ran.err


def lines(ran: Ran) -> dict[tuple[str, str], dict[str, Any]]:
    return {(one["unit"], one["what"]): one for one in ran.json["lines"]}


def test_nobody_who_saves_waits_while_forecasts_are_drawn(
    clinic: Command, ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn = []

    def looked(*arguments: Any, **more: Any) -> Quantiles:
        with closing(sqlite3.connect(ledger, timeout=0, isolation_level=None)) as other:
            other.execute("BEGIN EXCLUSIVE")  # It fails where anybody reads.
            other.execute("ROLLBACK")
        drawn.append(arguments)
        return quantiles(*arguments, **more)

    monkeypatch.setattr("logbook.answers.forecast.quantiles", looked)
    for words in ("due --week", "forecast show", f"sheet week --out {tmp_path / 'week.html'}"):
        before = len(drawn)
        assert clinic(*words.split()).saved, words
        assert len(drawn) > before, words


def test_it_reaches_to_the_sunday_of_next_week_whatever_the_day(clinic: Command) -> None:
    for day, until in (
        ("2026-03-06", "2026-03-15"), ("2026-03-08", "2026-03-15"), ("2026-03-09", "2026-03-22")
    ):  # fmt: skip
        told = clinic("due", "--week", "--as-of", day, "--json").json
        assert (told["schema"], told["until"]) == ("week/1", until)


def test_a_line_is_expected_by_its_date_or_by_its_forecast(clinic: Command) -> None:
    told = lines(clinic("due", "--week", "--json"))
    # Three of eight hours are used since Wednesday; five workdays are left to the limit.
    absorbent = told["bay1", "absorbent"]
    assert absorbent["urgency"] == "expected"
    assert "2026-03-11" <= absorbent["on"] <= "2026-03-13"
    assert "5 h left: likely" in absorbent["words"]
    assert absorbent["last_by"] == "KO"
    # bay2 used its absorbent for 14 of 8 h, so that it is told once, by what is worst.
    assert told["bay2", "absorbent"]["urgency"] == "overdue"
    assert told["bay2", "charcoal"]["urgency"] == "overdue"
    assert told["iso1", "verification"]["urgency"] == "overdue"
    assert ("bay1", "service") not in told


def test_a_day_beyond_the_list_is_not_told(clinic: Command) -> None:
    plan = ("service", "plan", "bay1", "hoses", "--every", "P1M", "--last")
    assert clinic(*plan, "2026-02-15").saved
    assert lines(clinic("due", "--week", "--json"))["bay1", "hoses"]["on"] == "2026-03-15"
    assert clinic(*plan, "2026-02-16").saved
    assert ("bay1", "hoses") not in lines(clinic("due", "--week", "--json"))


def test_what_is_out_of_service_comes_first_and_says_how_it_comes_back(clinic: Command) -> None:
    clinic("fault", "report", "iso1", "tipped", "--detail", "fell from the cart")
    told = clinic("due", "--week", "--json").json["lines"]
    assert (told[0]["unit"], told[0]["urgency"]) == ("iso1", "out of service")
    assert "comes back by a passed output verification" in told[0]["words"]
    assert "fell from the cart" in told[0]["words"]
    text = clinic("due", "--week").out.split("\n")
    assert text[1] == "bay1"
    assert text[2].startswith("  OUT OF SERVICE: iso1 tipped, fell from the cart; since 2026-03-06")


def test_an_open_fault_stands_behind_what_is_out_of_service(clinic: Command) -> None:
    assert clinic("fault", "report", "bay1", "leak", "--detail", "hiss at the canister").saved
    assert clinic("fault", "report", "iso1", "tipped").saved
    told = clinic("due", "--week", "--json").json["lines"]
    assert [(one["unit"], one["urgency"]) for one in told[:2]] == [
        ("iso1", "out of service"), ("bay1", "open fault")
    ]  # fmt: skip
    assert "OPEN FAULT: leak, hiss at the canister; since 2026-03-06" in clinic("due", "--week").out
    assert "comes back" not in told[1]["words"]


def test_who_did_it_last_is_told_by_the_initials_as_corrected(clinic: Command) -> None:
    assert clinic("staff", "add", "RT", "Night technician").saved
    done = clinic("absorbent", "change", "bay2", "--at", "8:00")
    number = done.out.partition("Saved entry ")[2].partition(":")[0]
    assert clinic("rule", "set", "absorbent-days", "1", "--because", "policy").saved
    assert lines(clinic("due", "--week", "--json"))["bay2", "absorbent"]["last_by"] == "KO"
    assert clinic("correct", number, "--initials", "RT", "--because", "signed for").saved
    assert lines(clinic("due", "--week", "--json"))["bay2", "absorbent"]["last_by"] == "RT"


def test_charges_canisters_and_bottles_are_counted_with_what_they_rest_on(clinic: Command) -> None:
    told = clinic("due", "--week", "--json").json["to_order"]
    assert [(one["goods"], one["each"], one["count"]) for one in told] == [
        ("charges of absorbent", "900", 1),
        ("charges of absorbent", "1200", 1),
        ("bottles of agent", "250", 1),
        ("charcoal canisters", None, 1),
    ]
    assert told[0]["words"] == "1 charge of absorbent of 900 g: bay2 now"
    assert told[2]["words"].startswith("1 bottle of agent of 250 mL (isoflurane): iso1 225 mL ")


def test_a_machine_that_uses_two_charges_is_told_twice(clinic: Command, clock: Clock) -> None:
    # At five hours a week a limit of two is reached three times from Friday to Sunday week.
    assert clinic("rule", "set", "absorbent-hours", "2", "--because", "policy").saved
    told = clinic("due", "--week", "--json").json["to_order"]
    assert [one["words"] for one in told if one["each"] == "1200"] == [
        "4 charges of absorbent of 1200 g: bay1 x 4 now"
    ]


def test_visits_stand_by_who_makes_them_up_to_90_days(clinic: Command) -> None:
    done = (("gauges", 4, "north"), ("bellows", 5, "north"), ("alarm", 4, None))
    for item, day, who in done:
        last = f"2026-03-0{day}"
        plan = ("service", "plan", "bay2", item, "--every", "P3M", "--last", last)
        assert clinic(*plan).saved
        by = ("--done-by", who) if who else ()
        words = ("service", "done", "bay2", item, "--outcome", "passed", "--at", f"{last} 12:00")
        assert clinic(*words, *by).saved
    told = clinic("due", "--week", "--json").json
    assert told["book_until"] == "2026-06-04"
    visits = [(one["who"], one["on"], one["unit"], one["item"]) for one in told["to_book"]]
    assert visits == [
        (None, "2026-03-01", "iso1", "verification"),
        (None, "2026-06-01", "bay1", "service"),
        (None, "2026-06-04", "bay2", "alarm"),
        ("north", "2026-06-04", "bay2", "gauges"),
    ]
    text = clinic("due", "--week").out
    assert "Sun 2026-03-01, OVERDUE: iso1 verification" in text
    assert "  north:\n    Thu 2026-06-04: bay2 gauges" in text


def test_closed_days_count_for_the_week_alone(clinic: Command) -> None:
    refused = clinic("due", "--closed", "2026-03-09")
    assert refused.code == 2
    assert "add --week" in refused.err
    closed = [word for day in range(9, 14) for word in ("--closed", f"2026-03-{day:02}")]
    assert ("bay1", "absorbent") not in lines(clinic("due", "--week", "--json", *closed))


def test_a_clinic_without_machines_has_an_empty_list(run_logbook: Command) -> None:
    ran = run_logbook("due", "--week")
    assert ran.code == 0
    assert "Nothing stands against a machine, and nothing falls due." in ran.out


def test_it_is_told_as_it_was_known(clinic: Command) -> None:
    told = clinic("due", "--week", "--as-known-on", "2026-03-03", "--json").json
    assert told["then"]["schema"] == "week/1"
    assert told["differences"] != []


def test_the_exit_code_asks_for_attention_where_more_than_expected_is_told(
    clinic: Command,
) -> None:
    assert clinic("due", "--week").code == 3
