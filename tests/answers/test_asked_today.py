"""What a check need not ask today, and what is counted beside the canister's label."""

from decimal import Decimal

import pytest

from logbook.answers.asked_today import counted_here, not_today
from logbook.answers.checking import to_walk
from logbook.answers.consequence import LabelDiffers
from logbook.answers.consequences import consequences
from logbook.answers.register import Register
from logbook.ledger.store import read_entry
from logbook.projections.lookup import machine_views
from tests.ledger.scribe import Scribe


def skipped(tell: Scribe, at: str) -> set[str]:
    asked = tell.ask(at)
    return {*not_today(asked, asked.machines["bay1"])}


def absorbent(bays: Scribe, ended: str) -> None:
    bays("absorbent_change", "2026-03-02 07:00", machine="bay1")
    bays.case("2026-03-02 08:00", f"2026-03-02 {ended}")


@pytest.mark.parametrize(("ended", "asked"), [("11:59", False), ("12:00", True), ("12:01", True)])
def test_the_granules_are_felt_from_half_of_the_hours_on(
    bays: Scribe, ended: str, asked: bool
) -> None:
    absorbent(bays, ended)
    assert ("absorbent-half" not in skipped(bays, "2026-03-03 07:00")) is asked


def test_the_granules_are_felt_where_nobody_can_tell(bays: Scribe) -> None:
    assert "absorbent-half" not in skipped(bays, "2026-03-03 07:00")
    absorbent(bays, "08:30")
    assert "absorbent-half" in skipped(bays, "2026-03-03 07:00")
    bays("rule_change", "2026-03-02 09:00", limit="absorbent-hours", value="0", reason="by colour")
    assert "absorbent-half" not in skipped(bays, "2026-03-03 07:00")


def test_the_share_of_the_hours_is_a_limit(bays: Scribe) -> None:
    absorbent(bays, "10:00")
    assert "absorbent-half" in skipped(bays, "2026-03-03 07:00")
    bays("rule_change", "2026-03-02 11:00", limit="absorbent-feel", value="25", reason="own")
    assert "absorbent-half" not in skipped(bays, "2026-03-03 07:00")


@pytest.mark.parametrize(("day", "asked"), [("08", False), ("09", True), ("10", True)])
def test_charcoal_is_weighed_each_week(bays: Scribe, day: str, asked: bool) -> None:
    bays("charcoal_change", "2026-03-01 07:00", machine="bay1", weight_g="200")
    bays("charcoal_weight", "2026-03-02 18:00", machine="bay1", weight_g="210")
    assert ("charcoal-weekly" not in skipped(bays, f"2026-03-{day} 07:00")) is asked


@pytest.mark.parametrize(("weight_g", "asked"), [("237.4", False), ("237.5", True)])
def test_charcoal_is_weighed_each_day_from_three_quarters_on(
    bays: Scribe, weight_g: str, asked: bool
) -> None:
    bays("charcoal_change", "2026-03-01 07:00", machine="bay1", weight_g="200")
    bays("charcoal_weight", "2026-03-02 18:00", machine="bay1", weight_g=weight_g)
    assert ("charcoal-weekly" not in skipped(bays, "2026-03-03 07:00")) is asked


def test_charcoal_of_which_no_weight_is_known_is_weighed(bays: Scribe) -> None:
    assert "charcoal-weekly" not in skipped(bays, "2026-03-01 08:00")
    bays("charcoal_change", "2026-03-01 07:00", machine="bay1")
    assert "charcoal-weekly" not in skipped(bays, "2026-03-01 08:00")


def test_hours_are_counted_from_the_change_on(bays: Scribe) -> None:
    asked = bays.ask("2026-03-03 07:00")
    assert counted_here(asked, asked.machines["bay1"]) == {}
    absorbent(bays, "09:20")
    asked = bays.ask("2026-03-03 07:00")
    assert counted_here(asked, asked.machines["bay1"]) == {"absorbent-hours": Decimal("1.33")}


def test_a_walk_knows_what_can_wait_and_what_is_counted(bays: Scribe) -> None:
    absorbent(bays, "09:30")
    told = {"machine": "bay1", "scavenging": "passive", "reason": "told"}
    bays("machine_change", "2026-03-02 12:00", **told)
    connection, moment = bays.book.connection, bays.moment("2026-03-03 07:00")
    walk = to_walk(connection, moment, "bay1", "daily")
    assert walk.counted == {"absorbent-hours": Decimal("1.5")}
    assert {"absorbent-feel", "charcoal-weight"} & {one.key for one in walk.items} == set()
    assert walk.profile == machine_views(connection, moment.at_s)["bay1"]


@pytest.mark.parametrize(
    ("label", "differs"), [("7", False), ("8", False), ("6.9", True), ("8.1", True)]
)
def test_a_label_that_differs_by_more_than_half_an_hour_is_told(
    bays: Scribe, label: str, differs: bool
) -> None:
    told = {"item": "hours", "state": "passed", "value": label, "unit": "h", "counted": "7.5"}
    check = {"machine": "bay1", "checklist": "daily", "version": 2, "answers": [told]}
    seq = bays("check", "2026-03-03 07:00", **check)
    entry = read_entry(bays.book.connection, seq)
    assert entry is not None
    found = consequences(Register(bays.book.connection), entry, bays.moment("2026-03-03 07:01"))
    expected = [LabelDiffers(Decimal(label), Decimal("7.5"))] if differs else []
    assert [one for one in found if isinstance(one, LabelDiffers)] == expected


@pytest.mark.parametrize(
    ("told", "owed"),
    [
        ({"oxygen_alarm": False, "second_gas": False}, False),
        ({"oxygen_alarm": False}, False),
        ({"oxygen_alarm": False, "second_gas": True}, True),
        ({"second_gas": False}, True),
        ({"oxygen_alarm": True, "second_gas": False}, True),
        ({}, True),
    ],
)
def test_a_list_of_which_nothing_applies_is_not_owed(
    bays: Scribe, told: dict[str, bool], owed: bool
) -> None:
    if told:
        bays("machine_change", "2026-03-02 08:00", machine="bay1", reason="told", **told)
    name = "oxygen-failure-alarm check"
    line = bays.due("2026-03-03 08:00", name, "days since the check")
    assert (line is not None) is owed
