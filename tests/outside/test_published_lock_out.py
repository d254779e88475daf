"""How long a vaporizer may be used after its certification, by two published rules, as `ready` and
`due` tell it."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from tests.cli.terminals import Command, squeezed

VERIFIED = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)


@pytest.fixture
def verified(bay1: Command, clock: Callable[[datetime], None]) -> Command:
    """iso1 planned every three years, and verified on 2026-03-02."""
    plan = ("service", "plan", "iso1", "output verification", "--every", "P36M")
    assert bay1(*plan).saved
    done = ("vaporizer", "verify", "iso1", "--output", "2", "2.0", "--at", "2026-03-02 08:00")
    assert bay1(*done).saved
    return bay1


def lines(bay1: Command) -> dict[str, str]:
    rows = bay1("due", "--all", "--json").json["items"]
    return {one["clock"]: one["standing"] for one in rows if one["unit"] == "iso1"}


@pytest.mark.parametrize(
    ("on", "standing"),
    [
        (datetime(2027, 2, 22, 20, tzinfo=UTC), "ok"),
        (datetime(2027, 3, 2, 20, tzinfo=UTC), "due"),
        (datetime(2027, 3, 3, 20, tzinfo=UTC), "overdue"),
    ],
)
def test_ucsb_no_vaporizer_is_used_more_than_a_year_after_its_certification(
    verified: Command, clock: Callable[[datetime], None], on: datetime, standing: str
) -> None:
    clock(on)
    assert lines(verified)["months since verified"] == standing
    told = squeezed(verified("ready", "bay1").out)
    says = "last verified 2026-03-02"
    assert (f"NO: iso1 output verification due on Tue 2027-03-02 ({says}" in told) is (
        standing == "overdue"
    )


@pytest.fixture
def unplanned(bay1: Command, clock: Callable[[datetime], None]) -> Command:
    """iso1 verified on 2026-03-02, which nobody planned."""
    done = ("vaporizer", "verify", "iso1", "--output", "2", "2.0", "--at", "2026-03-02 08:00")
    assert bay1(*done).saved
    return bay1


def test_both_rules_hold_where_nobody_planned_a_verification(
    unplanned: Command, clock: Callable[[datetime], None]
) -> None:
    clock(datetime(2027, 2, 22, 20, tzinfo=UTC))
    assert lines(unplanned) == {"calendar": "no record", "months since verified": "ok"}
    [booked] = [
        one for one in unplanned("due", "--week", "--json").json["to_book"] if one["unit"] == "iso1"
    ]
    assert booked["on"] == "2027-03-02"
    clock(datetime(2027, 3, 4, 20, tzinfo=UTC))
    told = squeezed(unplanned("ready", "bay1").out)
    assert "NO: iso1 output verification due on Tue 2027-03-02 (last verified 2026-03-02" in told
    assert "no case in 365 days; last verified 2026-03-02" in told
    case = unplanned("case", "begin", "bay1", "--pop-off", "open")
    assert "OUTPUT VERIFICATION OVERDUE: iso1, due on 2027-03-02" in case.out.split("Saved")[0]
    failed = ("service", "done", "iso1", "output verification", "--outcome", "failed")
    assert unplanned(*failed).code == 3
    assert lines(unplanned) == {"calendar": "no record"}
    assert "OUT OF SERVICE: iso1 on bay1 since 2027-03-04" in squeezed(unplanned("due").out)


def test_a_yearly_plan_says_it_already_and_a_clinic_may_follow_its_maker_instead(
    verified: Command, clock: Callable[[datetime], None]
) -> None:
    off = ("rule", "set", "vaporizer-verified-months", "0", "--because", "the maker says 36")
    assert verified(*off).saved
    clock(datetime(2027, 9, 2, 20, tzinfo=UTC))
    case = ("--began", "2027-08-30 08:00", "--ran", "1h", "--circuit", "adult")
    assert verified("case", "log", "bay1", *case).saved
    assert lines(verified) == {"calendar": "ok"}
    assert verified(*off[:3], "12", "--because", "ours again").saved
    plan = ("service", "plan", "iso1", "output verification", "--every", "P12M")
    assert verified(*plan).saved
    assert lines(verified) == {"calendar": "overdue"}


@pytest.mark.parametrize(("days", "unused"), [(365, False), (366, True)])
def test_uc_davis_a_vaporizer_unused_for_over_a_year_is_verified_again(
    verified: Command, clock: Callable[[datetime], None], days: int, unused: bool
) -> None:
    off = ("rule", "set", "vaporizer-verified-months", "0", "--because", "the maker says 36")
    assert verified(*off).saved
    clock(VERIFIED + timedelta(days=days))
    assert ("days unused" in lines(verified)) is unused
    said = "no case in 365 days; last verified 2026-03-02"
    assert (said in squeezed(verified("ready", "bay1").out)) is unused
    began = (VERIFIED + timedelta(days=days - 1)).strftime("%Y-%m-%d 08:00")
    case = ("--began", began, "--ran", "1h", "--circuit", "adult")
    assert verified("case", "log", "bay1", *case).saved
    assert "days unused" not in lines(verified)


def test_a_vaporizer_that_ran_lately_did_not_stand_unused_though_nobody_planned_anything(
    unplanned: Command, clock: Callable[[datetime], None]
) -> None:
    clock(VERIFIED + timedelta(days=370))
    assert "days unused" in lines(unplanned)
    case = ("--began", "2027-03-05 08:00", "--ran", "1h", "--circuit", "adult")
    assert unplanned("case", "log", "bay1", *case).saved
    assert "days unused" not in lines(unplanned)


def test_the_days_of_its_own_machine_count_and_what_ran_before_them_does_not(
    verified: Command, clock: Callable[[datetime], None]
) -> None:
    case = ("--began", "2026-03-03 08:00", "--ran", "1h", "--circuit", "adult")
    clock(VERIFIED + timedelta(days=2))
    assert verified("case", "log", "bay1", *case).saved
    clock(VERIFIED + timedelta(days=150))
    assert "days unused" not in lines(verified)
    days = ("vaporizer-unused-days", "100", "--machine", "bay1", "--because", "the maker says so")
    assert verified("rule", "set", *days).saved
    assert "days unused" in lines(verified)
