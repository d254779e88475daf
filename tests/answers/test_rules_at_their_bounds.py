"""Each rule on its bound and one step beyond, worked out from values: no ledger is opened."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from logbook.answers.absorbent import absorbent_items
from logbook.answers.agent import agent_left
from logbook.answers.charcoal import charcoal_items
from logbook.answers.drift import Compared, agent_compared, compare, drifts
from logbook.answers.facts import Canister, Change, Done, Exhausted, Level, Plan
from logbook.answers.item import Asked, Clock
from logbook.answers.known import Known
from logbook.answers.moment import Moment, moment_at
from logbook.answers.ready import _absorbent, _Question
from logbook.answers.rules import Rulebook
from logbook.answers.service import service_items
from logbook.answers.spans import Load, Ran, Use, stretches
from logbook.answers.standing import Standing
from logbook.limits import LIMITS
from logbook.projections.lookup import MachineView, VaporizerView, position
from tests.conftest import ZONE

NOON = datetime(2026, 3, 6, 19, 0, tzinfo=UTC)
MOMENT = moment_at(NOON, ZONE)
HOUR_S = 3600
VIEW = MachineView(machine="bay1")
ISO = VaporizerView(
    "iso1", "isoflurane", None, Decimal(250), Decimal(25), "bay1", "variable-bypass", None
)


def asked(moment: Moment = MOMENT, **known: Any) -> Asked:
    """A question about bay1 with iso1 on it, of which nothing else is known than what is given."""
    names = [
        "absorbent",
        "exhausted",
        "charcoal",
        "services",
        "ran",
        "agent_through",
        "sent_to_charcoal",
        "levels",
        "used",
    ]
    nothing: dict[str, Any] = {name: {} for name in names}
    facts: Any = SimpleNamespace(**nothing | {"plans": []} | known)
    facts.clock_of = lambda plan: Known.clock_of(
        SimpleNamespace(services=facts.services, _moment=moment),  # type: ignore[arg-type]
        plan,
    )
    rules = Rulebook({name: limit.value for name, limit in LIMITS.items()}, {})
    return Asked(moment, rules, {"bay1": VIEW}, {"iso1": ISO}, {}, facts)


def ran(seconds: int, circuit: str = "unknown") -> Ran:
    return Ran({circuit: Load(seconds, 0, seconds)})


@pytest.mark.parametrize(
    ("used_s", "standing"),
    [
        (8 * HOUR_S - 1, Standing.DUE_SOON),
        (8 * HOUR_S, Standing.DUE),
        (8 * HOUR_S + 1, Standing.OVERDUE),
    ],
)
def test_absorbent_is_due_at_its_hours(used_s: int, standing: Standing) -> None:
    change = Change(1, MOMENT.at_s - HOUR_S, None)
    question = asked(absorbent={"bay1": change}, ran={("absorbent", "bay1"): ran(used_s)})
    assert absorbent_items(question, VIEW)[0].standing is standing


@pytest.mark.parametrize(("planned_s", "stops"), [(HOUR_S, False), (HOUR_S + 1, True)])
def test_absorbent_that_is_left_for_exactly_the_planned_time_covers_it(
    planned_s: int, stops: bool
) -> None:
    change = Change(1, MOMENT.at_s - HOUR_S, None)
    known = asked(absorbent={"bay1": change}, ran={("absorbent", "bay1"): ran(7 * HOUR_S)})
    reasons = list(_absorbent(_Question(known, "bay1", planned_s, None)))
    assert any(one.weight == "stops" for one in reasons) is stops


def test_a_case_on_a_circuit_without_absorbent_loads_it_only_where_a_rule_says_so() -> None:
    change = Change(1, MOMENT.at_s - HOUR_S, None)
    loads = {("absorbent", "bay1"): ran(HOUR_S, "non-rebreathing")}
    question = asked(absorbent={"bay1": change}, ran=loads)
    assert absorbent_items(question, VIEW)[0].used == 0
    every = question.rules.clinic | {"absorbent-counts-non-rebreathing": Decimal(1)}
    counted = replace(question, rules=Rulebook(every, {}))
    assert absorbent_items(counted, VIEW)[0].used == 1


@pytest.mark.parametrize(("days_ago", "standing"), [(0, Standing.DUE), (1, Standing.OVERDUE)])
def test_granules_seen_today_are_due_and_those_of_yesterday_overdue(
    days_ago: int, standing: Standing
) -> None:
    seen = Exhausted(9, MOMENT.at_s - days_ago * 86_400, "violet")
    question = asked(absorbent={"bay1": Change(1, 0, None)}, exhausted={"bay1": seen})
    assert absorbent_items(question, VIEW)[-1].standing is standing


def compared(*percents: int, untold: int = 0) -> list[Compared]:
    return [
        compare(n, 0, Decimal(100 + one), Decimal(100), untold) for n, one in enumerate(percents)
    ]


@pytest.mark.parametrize(
    ("percents", "does"),
    [
        ((26, 26, 26), True),
        ((25, 26, 26), False),
        ((-26, -26, -26), True),
        ((-25, -26, -26), False),
        ((26, -26, 26), False),
        ((26, 26), False),
        ((0, 26, 26, 26), True),
        ((26, 26, 26, 0), False),
    ],
)
def test_use_drifts_beyond_25_percent_on_one_side_three_times(
    percents: tuple[int, ...], does: bool
) -> None:
    assert drifts(compared(*percents)) is does


def test_comparisons_over_untold_cases_say_nothing_of_drift() -> None:
    assert not drifts(compared(26, 26) + compared(26, untold=1))
    assert drifts(compared(26, 26) + compared(90, untold=1) + compared(26))


def level(entry: int, ml: str | None, added: str | None = None) -> Level:
    amounts = [None if one is None else Decimal(one) for one in (added, ml)]
    return Level(entry, MOMENT.at_s - 100 + entry, added is None, *amounts)


def test_agent_left_stands_on_the_last_level_and_what_was_added_after_it() -> None:
    levels = [level(1, "100"), level(2, "80"), level(3, None, "40")]
    uses = {1: Use(Decimal(99)), 2: Use(Decimal("12.5"), Decimal(0), 1)}
    left = agent_left(asked(levels={"iso1": levels}, used=uses), ISO)
    assert (left.left_ml, left.used_ml, left.untold_cases) == (Decimal("107.5"), Decimal("12.5"), 1)


@pytest.mark.parametrize(("used_ml", "low"), [("74.9", False), ("75", True), ("200", True)])
def test_agent_at_the_low_mark_is_low_and_never_below_nothing(used_ml: str, low: bool) -> None:
    uses = {1: Use(Decimal(used_ml))}
    left = agent_left(asked(levels={"iso1": [level(1, "100")]}, used=uses), ISO)
    assert (left.low, left.left_ml) == (low, max(100 - Decimal(used_ml), Decimal(0)))


def test_only_a_fill_that_tells_both_amounts_is_compared() -> None:
    levels = [
        level(1, "100"),
        level(2, None, "10"),
        level(3, "150", "60"),
        level(4, "160", None),
    ]
    levels[3] = replace(levels[3], reading=False)
    uses = {1: Use(Decimal(16))}
    found = agent_compared(asked(levels={"iso1": levels}, used=uses), ISO)
    assert [(one.entry, one.seen, one.worked_out) for one in found] == [(3, 20, 16)]


def test_the_last_five_comparisons_are_told() -> None:
    levels = [level(n, str(200 - n)) for n in range(1, 9)]
    found = agent_compared(asked(levels={"iso1": levels}), ISO)
    assert [one.entry for one in found] == [4, 5, 6, 7, 8]


def plan_items(done_day: int, last_day: int) -> str:
    plan = Plan("bay1", "service", "P1M", None, date(2026, 3, last_day))
    done = Done(5, int(datetime(2026, 3, done_day, 19, tzinfo=UTC).timestamp()), "passed")
    known = asked(plans=[plan], services={("bay1", "service"): done})
    item = next(one for one in service_items(known) if one.unit == "bay1")
    return f"{item.due_on} {known.known.clock_of(plan)[1] == done.at_s}"


def test_a_service_on_the_very_day_of_the_last_one_counts_from_its_second() -> None:
    assert plan_items(done_day=2, last_day=2) == "2026-04-02 True"
    assert plan_items(done_day=1, last_day=2) == "2026-04-02 False"
    assert plan_items(done_day=3, last_day=2) == "2026-04-03 True"


def gain(fresh: str | None, *weights: str) -> Decimal | None:
    weighed = tuple((n, Decimal(one)) for n, one in enumerate(weights, start=1))
    canister = Canister(0, None if fresh is None else Decimal(fresh), weighed)
    items = charcoal_items(asked(charcoal={"bay1": canister}), VIEW)
    return next((one.used for one in items if one.clock is Clock.WEIGHT), None)


def test_a_canister_gained_what_the_heaviest_weighing_says() -> None:
    assert gain("200", "230", "220") == 30
    assert gain("200", "190") == 0
    assert gain("200") is None
    assert gain(None, "230") is None


def test_a_stay_begins_at_its_very_second_and_ends_before_the_next() -> None:
    stays = [(100, "bay1"), (200, None), (300, "bay2")]
    assert [position(stays, at) for at in (99, 100, 199, 200, 299, 300)] == [
        None, "bay1", "bay1", None, None, "bay2",
    ]  # fmt: skip
    assert stretches(stays, 350) == [(100, 200, "bay1"), (300, 350, "bay2")]
    assert stretches(stays, 150) == [(100, 150, "bay1"), (300, 150, "bay2")]
