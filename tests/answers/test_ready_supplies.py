"""What speaks for or against a machine of its oxygen and agent, on each bound and a step beyond."""

from decimal import Decimal
from typing import Any

import pytest

from logbook.answers.ready import Readiness, ready
from logbook.answers.reason import (
    AgentStands,
    CylinderLow,
    Level,
    NoGauge,
    NotCounted,
    NoVaporizer,
    OxygenStands,
    PipelineReads,
    Reason,
    SizeUnknown,
)
from logbook.arithmetic.setup import Patient, Setup, set_up
from tests.ledger.scribe import Scribe

AT = "2026-03-02 12:00"
HOUR_S = 3600


def reasons(tell: Scribe, kind: type[Reason], **more: Any) -> list[Any]:
    """The reasons of one kind that speak for or against bay1 at noon."""
    told = ready(tell.book.connection, tell.moment(AT), "bay1", **more)
    return [one for one in told.reasons if isinstance(one, kind)]


def dog() -> Setup:
    return set_up(Patient(Decimal(24000)), HOUR_S)


def gauge(tell: Scribe, psi: str, **more: Any) -> None:
    tell("oxygen_reading", "2026-03-02 07:00", machine="bay1", cylinder_psi=psi, **more)


def oxygen(tell: Scribe, **more: Any) -> list[tuple[str, str]]:
    """Everything about cylinders: what is said, and how much it weighs."""
    kinds = (NoGauge, CylinderLow, SizeUnknown, NotCounted, OxygenStands)
    return [
        (type(one).__name__, one.weight) for kind in kinds for one in reasons(tell, kind, **more)
    ]


@pytest.mark.parametrize(
    ("psi", "said"), [("200", ("SizeUnknown", "unknown")), ("199.9", ("CylinderLow", "stops"))]
)
def test_a_cylinder_below_its_limit_stops_and_one_of_no_size_cannot_be_told(
    bays: Scribe, psi: str, said: tuple[str, str]
) -> None:
    assert oxygen(bays) == [("NoGauge", "unknown")]
    gauge(bays, psi)
    assert oxygen(bays) == [said]


def test_a_cylinder_lasts_by_what_the_case_needs(bays: Scribe) -> None:
    needed_l = dog().oxygen_l
    for psi, weight in ((1900, "fine"), (300, "stops")):
        at = f"2026-03-02 {7 + (psi == 300):02}:00"
        told = {"machine": "bay1", "size": "E", "cylinder_psi": str(psi)}
        bays("cylinder_change", at, **told)
        [alone] = reasons(bays, OxygenStands)
        assert (alone.weight, alone.needed_l, alone.minutes) == ("fine", None, None)
        [read] = reasons(bays, OxygenStands, planned_s=HOUR_S, setup=dog())
        assert (read.weight, read.needed_l) == (weight, needed_l)
        assert (read.minutes is None) == (weight == "stops")
        assert (alone.usable_l < needed_l) == (weight == "stops")


@pytest.mark.parametrize("told", [{"size": "E"}, {}])
def test_the_size_is_that_of_the_profile_where_a_change_tells_none(
    bays: Scribe, told: dict[str, str]
) -> None:
    profile = {"machine": "bay1", "cylinders": ["4.7L"], "reason": "told"}
    bays("machine_change", "2026-03-02 06:00", **profile)
    bays("cylinder_change", "2026-03-02 07:00", machine="bay1", cylinder_psi="1200", **told)
    [read] = reasons(bays, OxygenStands)
    # By the letter 0.28 L/psi, by the water 4.7 L × 1000 psi ÷ 14.7 psi, of which real gas is less.
    assert read.usable_l == (Decimal("280.000") if told else read.usable_l)
    assert read.left.cylinders[0].size == ("E" if told else "4.7L")


def test_the_gauge_of_the_cylinder_before_says_nothing_of_the_next_one(bays: Scribe) -> None:
    gauge(bays, "1900")
    bays("cylinder_change", "2026-03-02 08:00", machine="bay1", size="E")
    assert oxygen(bays) == [("NoGauge", "unknown")]


def two(tell: Scribe) -> None:
    profile = {"machine": "bay1", "cylinders": ["E", "E"], "reason": "told"}
    tell("machine_change", "2026-03-02 06:00", **profile)


def test_several_cylinders_count_together_and_none_that_is_low(bays: Scribe) -> None:
    two(bays)
    gauge(bays, "1200")
    assert oxygen(bays) == [("NotCounted", "remark"), ("OxygenStands", "fine")]
    gauge(bays, "700", number=2)
    [read] = reasons(bays, OxygenStands)
    assert read.usable_l == Decimal("280.000") + Decimal("140.000")
    gauge(bays, "199", number=2)
    assert oxygen(bays) == [("CylinderLow", "remark"), ("OxygenStands", "fine")]
    assert reasons(bays, OxygenStands)[0].usable_l == Decimal("280.000")
    gauge(bays, "199")
    assert oxygen(bays) == [("CylinderLow", "stops"), ("CylinderLow", "stops")]


def test_what_cases_took_since_the_gauge_was_read_is_gone(bays: Scribe) -> None:
    bays("cylinder_change", "2026-03-02 07:00", machine="bay1", size="E", cylinder_psi="1200")
    bays.case("2026-03-02 10:00", "2026-03-02 11:00", segments=({"flow_ml_min": "2000"},))
    [read] = reasons(bays, OxygenStands)
    assert (read.weight, read.usable_l, read.left.used_l) == ("remark", Decimal(280), 0)
    assert read.left.untold_cases == 1
    setting = {"flow_ml_min": "2000", "dial_percent": "2"}
    bays.case("2026-03-02 08:00", "2026-03-02 09:00", segments=(setting,))
    assert reasons(bays, OxygenStands)[0].usable_l == Decimal(160)
    # On a pipeline the cylinder gave nothing.
    bays("machine_change", "2026-03-02 06:00", machine="bay1", pipeline=True, reason="told")
    [read] = reasons(bays, OxygenStands)
    assert (read.weight, read.usable_l) == ("fine", Decimal(280))


def test_of_several_what_was_used_came_out_of_that_read_last(bays: Scribe) -> None:
    two(bays)
    gauge(bays, "1200")
    bays("oxygen_reading", "2026-03-02 07:00", machine="bay1", cylinder_psi="1200", number=2)
    setting = {"flow_ml_min": "2000", "dial_percent": "2"}
    bays.case("2026-03-02 08:00", "2026-03-02 09:00", segments=(setting,))
    assert reasons(bays, OxygenStands)[0].usable_l == 560 - 120
    # Its gauge read anew tells it, and what the other gave until then stays taken off.
    bays("oxygen_reading", "2026-03-02 09:30", machine="bay1", cylinder_psi="900")
    assert reasons(bays, OxygenStands)[0].usable_l == 280 + 196 - 120


def test_a_pipeline_that_is_off_stops_and_that_of_yesterday_says_nothing(bays: Scribe) -> None:
    bays("oxygen_reading", "2026-03-01 23:00", machine="bay1", pipeline_psi="50")
    assert reasons(bays, PipelineReads) == []
    gauge(bays, "1900", pipeline_psi="30")
    [pipeline] = reasons(bays, PipelineReads)
    assert pipeline.weight == "stops"
    assert oxygen(bays) == [("SizeUnknown", "unknown")]


@pytest.mark.parametrize(
    ("level_ml", "weight", "level"),
    [
        ("251", "stops", Level.OVERFULL),
        ("250", "fine", Level.ENOUGH),
        ("26", "fine", Level.ENOUGH),
        ("25", "stops", Level.LOW),
    ],
)
def test_a_vaporizer_is_neither_overfull_nor_at_its_low_mark(
    bays: Scribe, level_ml: str, weight: str, level: Level
) -> None:
    bays("agent_level", "2026-03-02 07:00", vaporizer="iso1", level_ml=level_ml)
    [agent] = reasons(bays, AgentStands)
    assert (agent.weight, agent.level, agent.needed_ml) == (weight, level, 0)


def test_a_case_takes_the_agent_above_the_low_mark(bays: Scribe) -> None:
    needed_ml = dog().needed_ml("isoflurane", None)
    for left_ml, level in ((needed_ml + 25, Level.ENOUGH), (needed_ml + 24, Level.LOW)):
        at = f"2026-03-02 07:{10 + (level is Level.LOW)}"
        bays("agent_level", at, vaporizer="iso1", level_ml=str(left_ml))
        [agent] = reasons(bays, AgentStands, planned_s=HOUR_S, setup=dog())
        assert (agent.level, agent.needed_ml) == (level, needed_ml)
    [missing] = reasons(bays, NoVaporizer, agent="sevoflurane")
    assert (missing.weight, missing.agent) == ("stops", "sevoflurane")


def test_a_fill_of_which_only_the_amount_is_known_stands_on_the_level_before_it(
    bays: Scribe,
) -> None:
    bays("agent_level", "2026-03-02 07:00", vaporizer="iso1", level_ml="100")
    bays("agent_fill", "2026-03-02 07:10", vaporizer="iso1", added_ml="20")
    [agent] = reasons(bays, AgentStands)
    assert agent.left.left_ml == 120


def test_the_worst_reason_makes_the_verdict(bays: Scribe) -> None:
    def verdict() -> Readiness:
        return ready(bays.book.connection, bays.moment(AT), "bay1").readiness

    assert verdict() is Readiness.CANNOT_TELL
    bays("fault", "2026-03-02 08:00", unit="bay1", what="leak", stops=True)
    assert verdict() is Readiness.NOT_READY
