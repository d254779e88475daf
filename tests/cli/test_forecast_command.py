"""The forecast as it is asked for, kept and held against what came."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from logbook.ledger.schema import forecast_issued
from logbook.recording.opening import reading
from tests.conftest import ZONE, Ran

Command = Callable[..., Ran]
Clock = Callable[[datetime], None]


def log(run: Command, day: date, minutes: int = 60, machine: str = "bay1") -> None:
    ran = run(
        "case", "log", machine, "--began", f"{day} 08:00", "--ran", f"{minutes}min",
        "--circuit", "adult", "--flow", "1L/min", "--dial", "2",
    )  # fmt: skip
    assert ran.saved, ran.err


def weeks_of_use(run: Command, clock: Clock, first: date, last: date) -> None:
    """An hour on each workday from the first day to the last."""
    day = first
    while day <= last:
        if day.weekday() < 5:
            clock(datetime(day.year, day.month, day.day, 17, tzinfo=ZONE))
            log(run, day)
        day += timedelta(days=1)


@pytest.fixture
def used(run_logbook: Command, clock: Clock) -> Command:
    """bay1 for six weeks, fresh absorbent on the last day at noon; Friday 2026-03-06, 17:00."""
    clock(datetime(2026, 1, 19, 7, tzinfo=ZONE))
    for words in (
        "machine add bay1",
        "vaporizer add iso1 --agent isoflurane --capacity 250ml --fit bay1",
        "agent fill iso1 --level 250ml",
    ):
        assert run_logbook(*words.split()).saved
    weeks_of_use(run_logbook, clock, date(2026, 1, 19), date(2026, 3, 6))
    assert run_logbook("absorbent", "change", "bay1", "--at", "12:00").saved
    return run_logbook


def of(ran: Ran, clock: str) -> dict:
    [found] = [one for one in ran.json["forecasts"] if one["clock"] == clock]
    return found


def test_a_forecast_tells_the_likely_day_and_the_early_one(used: Command) -> None:
    told = of(used("forecast", "show", "--json"), "hours in use")
    # An hour each workday, the eighth of them the limit of 8 h: Wednesday of the week after next.
    assert (told["left"], told["per_week"], told["weeks"]) == ("8", "5", 6)
    assert told["mean_on"] == "2026-03-18"
    assert date(2026, 3, 16) <= date.fromisoformat(told["early"]) <= date(2026, 3, 18)
    assert told["early"] <= told["likely"] <= told["late"]
    line = f"bay1: absorbent, 8 h left: likely {date.fromisoformat(told['likely']):%a} "
    text = " ".join(used("forecast", "show").out.split())
    assert line in text
    assert f"as early as {date.fromisoformat(told['early']):%a} {told['early']} (1 in 10)" in text


def test_agent_is_told_above_what_the_vaporizer_must_keep(used: Command) -> None:
    told = of(used("forecast", "show", "--json"), "agent used")
    assert (told["unit"], told["machine"], told["measure"]) == ("iso1", "bay1", "mL")
    # 35 h of 1 L/min at 2 %: 1,200 / 195 mL an hour by the vapour of a millilitre.
    assert abs(float(told["left"]) - (250 - 35 * 1200 / 195 / 0.98)) < 2


def test_the_same_question_gives_the_same_answer(used: Command) -> None:
    first = used("forecast", "show", "--json").json["forecasts"]
    assert used("forecast", "show", "--json").json["forecasts"] == first


def test_closed_days_put_the_day_off(used: Command) -> None:
    closed = [word for day in range(9, 14) for word in ("--closed", f"2026-03-{day:02}")]
    told = of(used("forecast", "show", "--json", *closed), "hours in use")
    assert told["mean_on"] == "2026-03-25"
    assert told["early"] >= "2026-03-23"


def test_a_day_that_is_over_takes_no_more(used: Command) -> None:
    told = of(used("forecast", "show", "--as-of", "2026-03-09 07:00", "--json"), "hours in use")
    assert told["mean_on"] == "2026-03-18"
    over = of(used("forecast", "show", "--as-of", "2026-03-09", "--json"), "hours in use")
    assert over["mean_on"] == "2026-03-19"


def test_under_four_whole_weeks_it_says_so_and_tells_the_plain_rate(used: Command) -> None:
    before = used("forecast", "show", "--as-of", "2026-02-15", "--json")
    told = of(before, "agent used")
    assert (told["weeks"], told["early"], told["likely"]) == (3, None, None)
    assert told["mean_on"] is not None
    text = " ".join(used("forecast", "show", "--as-of", "2026-02-15").out.split())
    assert "3 whole weeks of use, fewer than 4, do not tell how early; at the plain rate" in text
    after = of(used("forecast", "show", "--as-of", "2026-02-16", "--json"), "agent used")
    assert (after["weeks"], after["early"] is None) == (4, False)


def test_a_machine_on_a_pipeline_has_no_forecast_of_its_cylinder(used: Command) -> None:
    assert used("oxygen", "change", "bay1", "--size", "E", "--cylinder", "1900psi").saved
    assert of(used("forecast", "show", "--json"), "oxygen used")["measure"] == "L"
    assert used("oxygen", "read", "bay1", "--pipeline", "50psi").saved
    told = used("forecast", "show", "--json").json["forecasts"]
    assert "oxygen used" not in {one["clock"] for one in told}


def kept(ledger: Path) -> list[tuple[str, str, str]]:
    with reading(ledger) as book:
        rows = book.connection.execute(select(forecast_issued)).all()
    return sorted((row.unit, row.clock, row.issued_on) for row in rows)


def test_what_is_given_out_is_kept_once_a_day(used: Command, ledger: Path) -> None:
    used("forecast", "show", "--as-of", "2026-03-05")
    used("forecast", "show", "--closed", "2026-03-09")
    assert kept(ledger) == []
    used("forecast", "show")
    once = kept(ledger)
    assert ("bay1", "hours in use", "2026-03-06") in once
    used("forecast", "show")
    assert kept(ledger) == once
    assert used("verify").code == 0


def test_the_score_says_what_came_of_what_was_kept(
    used: Command, clock: Clock, ledger: Path
) -> None:
    used("forecast", "show")
    nothing = used("forecast", "score", "--json").json
    assert (nothing["issued"], nothing["known"], nothing["scores"]) == (2, 0, None)
    weeks_of_use(used, clock, date(2026, 3, 9), date(2026, 3, 12))
    assert used("forecast", "score", "--json").json["known"] == 0
    # 31 mL of agent were left, which is the fifth hour; the eighth is that of the absorbent. Both
    # come on the day that the plain mean had told, as no week differs.
    weeks_of_use(used, clock, date(2026, 3, 13), date(2026, 3, 17))
    assert used("forecast", "score", "--json").json["known"] == 1
    weeks_of_use(used, clock, date(2026, 3, 18), date(2026, 3, 18))
    told = used("forecast", "score", "--json").json
    assert (told["issued"], told["known"]) == (2, 2)
    assert told["scores"]["mean_score_days"] == "0.00"
    assert told["scores"]["within_percent"] == "100"
    text = used("forecast", "score").out
    assert text.startswith("2 forecasts were kept; of 2 it is known what came.")


def test_a_ledger_that_cannot_be_written_is_forecast_and_says_that_nothing_is_kept(
    used: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    from logbook.errors import NotSaved
    from logbook.office import forecasts

    def full(*_: object) -> None:
        raise NotSaved("the disk is full; free some space, then try again")

    monkeypatch.setattr(forecasts, "keep_issued", full)
    ran = used("forecast", "show")
    assert ran.code == 0
    assert "absorbent, 8 h left" in ran.out
    assert "This forecast is not kept to be scored: the disk is full" in ran.err
