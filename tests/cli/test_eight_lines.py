"""The week in its shortest form: register, change, run, plan, ask."""

from tests.conftest import Ran


def test_a_case_after_a_change_counts_on_the_absorbent(bay1) -> None:
    assert bay1("absorbent", "change", "bay1", "--at", "2026-03-02 07:30").code == 0
    logged: Ran = bay1(
        *("case", "log", "bay1", "--began", "2026-03-02 08:10", "--ran", "1h35"),
        *("--circuit", "adult", "--weight", "24kg", "--flow", "1L/min", "--dial", "2"),
    )
    assert logged.code == 3, logged.err  # Nobody recorded a check that day.
    assert "1 h 35 min" in logged.out
    due = bay1("due", "--as-of", "2026-03-06", "--json")
    assert due.code == 3
    assert due.json["schema"] == "due/1"
    hours = [item for item in due.json["items"] if item["clock"] == "hours in use"]
    assert hours == [
        {
            "machine": "bay1",
            "unit": "bay1",
            "item": "absorbent",
            "clock": "hours in use",
            "used": "1.58",
            "limit": "8",
            "measure": "h",
            "standing": "ok",
            "due_on": None,
            "reason": "last change 2026-03-02 07:30, recorded 4 days afterwards",
            "recorded_late_s": 376200,
        }
    ]
