"""A vaporizer's output as measured: judged, kept, and followed over the years."""

from collections.abc import Callable
from typing import Any

import pytest

from tests.conftest import Ran

Command = Callable[..., Ran]


def verify(say: Command, *outputs: str, at: str = "2026-03-05 10:00", **more: str) -> Ran:
    """Record a verification; each output is told as ``dial=measured``."""
    told = [word for one in outputs for word in ("--output", *one.split("="))]
    options = [word for name, value in more.items() for word in (f"--{name}", value)]
    return say("vaporizer", "verify", "iso1", *told, "--at", at, *options)


def words(ran: Ran) -> str:
    """What was said, without the breaks of its lines."""
    return " ".join(ran.out.split())


def outputs(say: Command) -> Any:
    return say("vaporizer", "show", "iso1", "--json").json["outputs"]


@pytest.mark.parametrize(
    ("dial", "on", "beyond"),
    [("2", "2.3", "2.301"), ("2", "1.7", "1.699"), ("0.25", "0.3", "0.301"), ("0", "0.05", "0.06")],
)
def test_the_larger_tolerance_counts_and_its_bound_passes(
    bay1: Command, dial: str, on: str, beyond: str
) -> None:
    assert "passed" in verify(bay1, f"{dial}={on}").out
    failed = verify(bay1, f"{dial}={beyond}", at="2026-03-05 11:00")
    assert "FAILED" in failed.out
    assert "OUT OF SERVICE: iso1" in failed.out


def test_one_output_beyond_the_tolerance_fails_the_whole_and_is_told_as_the_worst(
    bay1: Command,
) -> None:
    told = words(verify(bay1, "1=1.1", "2=2.4", "3=3.1"))
    assert "Worst of it: dial 2 % gave 2.4 % (+20.0 %), allowed 1.7 to 2.3 %: FAIL." in told
    (one,) = outputs(bay1)["verifications"]
    assert one["worst"]["dial_percent"] == "2"
    assert [each["within"] for each in one["outputs"]] == [True, False, True]


def test_a_vaporizer_that_failed_comes_back_on_a_verification_that_passed(bay1: Command) -> None:
    verify(bay1, "2=2.4", at="2026-03-05 10:00")
    assert "OUT OF SERVICE" in bay1("vaporizer", "show", "iso1").out
    saved = verify(bay1, "2=2.1", at="2026-03-05 11:00").out
    number = saved.partition("Saved entry ")[2].partition(":")[0]
    assert bay1("return-to-service", "iso1", "--evidence", number).code == 0
    assert "OUT OF SERVICE" not in bay1("vaporizer", "show", "iso1").out


def test_it_is_the_verification_that_a_plan_asks_for(bay1: Command) -> None:
    plan = ("service", "plan", "iso1", "output verification", "--every", "P12M")
    assert bay1(*plan, "--last", "2024-01-10").saved
    assert "OVERDUE: iso1 output verification" in bay1("due").out
    assert "due on Fri 2027-03-05" in verify(bay1, "2=2.1").out
    assert "OVERDUE" not in bay1("due").out


def test_thin_air_is_corrected_by_the_clinics_height_and_a_pressure_that_was_read_counts_before_it(
    bay1: Command,
) -> None:
    assert "Not corrected for altitude" in verify(bay1, "2=2.1", at="2026-03-05 08:00").out
    assert bay1("clinic", "change", "--altitude", "1609m", "--because", "told").code == 0
    by_height = words(verify(bay1, "2=2.43", at="2026-03-05 09:00"))
    assert "gave 2.43 % for 2.43 %, 83.4 kPa of air" in by_height
    assert "Not corrected" not in by_height
    read = words(verify(bay1, "2=2.43", **{"ambient-pressure": "80kPa"}))
    assert "gave 2.43 % for 2.53 %, 80 kPa of air" in read


def test_a_heated_vaporizer_keeps_its_volume_percent_in_thin_air(bay1: Command) -> None:
    bay1("vaporizer", "add", "des1", "--agent", "desflurane")
    bay1("vaporizer", "add", "iso2", "--agent", "isoflurane", "--design", "heated")
    for tag in ("des1", "iso2"):
        thin = ("vaporizer", "verify", tag, "--output", "6", "6", "--ambient-pressure", "70kPa")
        assert "passed, dial 6 % gave 6 %, 70 kPa of air" in words(bay1(*thin))


def test_drift_is_told_from_three_verifications_on_and_begins_anew_after_a_failed_one(
    bay1: Command,
) -> None:
    verify(bay1, "2=2.00", at="2023-03-01 10:00")
    verify(bay1, "2=2.06", at="2024-02-29 10:00")
    assert outputs(bay1)["drifts"] == []
    told = words(verify(bay1, "2=2.12", at="2025-02-28 10:00"))
    assert "dial 2 % moves +3.0 % a year over 3 verifications" in told
    (drift,) = outputs(bay1)["drifts"]
    # 15 % at 3 % a year are reached five years after the first.
    assert drift["leaves_on"] == "2028-02-28"
    verify(bay1, "2=2.5", at="2026-03-01 10:00")
    assert outputs(bay1)["drifts"] == []


def test_a_drift_that_leads_nowhere_in_ten_years_names_no_day(bay1: Command) -> None:
    for year, seen in ((2023, "2.00"), (2024, "2.01"), (2025, "2.02")):
        verify(bay1, f"2={seen}", at=f"{year}-03-01 10:00")
    (drift,) = outputs(bay1)["drifts"]
    assert drift["leaves_on"] is None
    assert "stays within what is allowed for 10 years" in words(bay1("vaporizer", "show", "iso1"))


def test_a_drift_that_is_past_its_bound_names_today_and_a_dial_of_nothing_drifts_nowhere(
    bay1: Command,
) -> None:
    for day, seen in ((1, "1.8"), (2, "2.0"), (3, "2.29")):
        verify(bay1, f"2={seen}", "0=0.01", at=f"2026-03-0{day} 10:00")
    (drift,) = outputs(bay1)["drifts"]
    assert drift["leaves_on"] == "2026-03-06"


@pytest.mark.parametrize(("dial", "told"), [("0.0005", None), ("0.0006", "1566.7")])
def test_a_dial_that_rounds_to_nothing_has_no_error_in_percent_and_its_history_is_told(
    bay1: Command, dial: str, told: str | None
) -> None:
    verify(bay1, f"{dial}=0.01")
    (one,) = outputs(bay1)["verifications"]
    assert one["worst"]["bias_percent"] == told
    assert bay1("history", "iso1").saved


def test_outputs_of_older_entries_are_part_of_the_history(bay1: Command) -> None:
    old = ("service", "done", "iso1", "output verification", "--outcome", "passed")
    assert bay1(*old, "--output", "2", "2.1", "--at", "2025-03-01 10:00").saved
    verify(bay1, "2=2.2")
    assert [one["worst"]["bias_percent"] for one in outputs(bay1)["verifications"]] == ["5", "10"]


def test_outputs_belong_to_a_verification_alone(bay1: Command) -> None:
    odd = bay1("service", "done", "iso1", "dusting", "--outcome", "passed", "--output", "2", "2")
    assert odd.code == 2
    assert 'outputs are told of an "output verification"' in odd.err
    assert "say what was measured" in bay1("vaporizer", "verify", "iso1").err
