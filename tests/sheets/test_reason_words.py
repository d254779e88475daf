"""Each thing that speaks for or against a machine in its words, and each ground of a clock."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, get_args

import pytest

from logbook.answers import ground, reason
from logbook.answers.agent import AgentLeft
from logbook.answers.facts import CheckDone, Gauge, OnMachine, OpenFault, PopOff
from logbook.answers.ground import Ground, Missing
from logbook.answers.item import Clock, DueItem
from logbook.answers.oxygen import OxygenLeft
from logbook.answers.ready import Readiness
from logbook.answers.reason import Level, Reason, Weight
from logbook.answers.standing import Standing
from logbook.answers.unfinished import Unfinished
from logbook.arithmetic.allowed import Allowed
from logbook.errors import InputError
from logbook.sheets.ground import ground_text
from logbook.sheets.reasons import ReasonRow, readiness_text, reason_words
from tests.conftest import ZONE

AT = datetime(2026, 3, 2, 8, 10, tzinfo=ZONE)
UTC_AT = AT.astimezone(UTC)
ABSORBENT = DueItem(
    "bay1", "bay1", "absorbent", Clock.HOURS, None, None, None, Standing.NO_RECORD, None,
    ground.NotRecorded(Missing.CHANGE),
)  # fmt: skip
LEFT = Decimal("99.9")
ALLOWED = Allowed(Decimal(45), Decimal(55))
READ = Gauge(Decimal(1500), AT)
ON = OnMachine(1, "E", READ)


def oxygen(
    weight: Weight, *cylinders: OnMachine, used: Decimal = Decimal(0), untold: int = 0, **more: Any
) -> Reason:
    left = OxygenLeft(list(cylinders), Decimal(200), LEFT, used, untold)
    return reason.OxygenStands(weight, left, LEFT, **more)


def agent(level: Level, needed: int = 0, untold: int = 0) -> Reason:
    day, used_ml = date(2026, 3, 1), Decimal("20.1")
    left = AgentLeft(LEFT, AT, used_ml, untold, False, held_ml=Decimal(120), last_on=day)
    return reason.AgentStands("stops", "iso1", left, level, Decimal(needed))


BY = "(120 mL on 2026-03-01, less 20.1 mL counted since)"


@pytest.mark.parametrize(
    ("one", "about", "sentence"),
    [
        (
            reason.OutOfService("stops", OpenFault(3, "iso1", "tipped", "on its side", UTC_AT), AT),
            "fault",
            "iso1 out of service since 2026-03-02 08:10: tipped, on its side (entry 3)",
        ),
        (reason.InUse("stops", 9, AT), "use", "case 9 runs on it since 2026-03-02 08:10"),
        (reason.NotChecked("unknown"), "today's check", "today's daily check is not recorded"),
        (
            reason.Checked("stops", CheckDone(7, "failed", "KO", UTC_AT), AT),
            "today's check",
            "daily check failed at 08:10 by KO (entry 7)",
        ),
        (
            reason.BeingChecked(
                "remark",
                Unfinished("x", "bay1", "daily", 1, UTC_AT, "KO", "KO", None, {}),
                AT,
                Decimal(4),
            ),
            "unfinished check",
            "KO began the daily check of bay1 at 2026-03-02 08:10; 0 items answered, the last at "
            "08:10",
        ),
        (
            reason.PopOffUnseen("unknown"),
            "pop-off valve",
            "the pop-off valve was never recorded open",
        ),
        (
            reason.PopOffSeen("fine", PopOff(True, 5, UTC_AT), AT),
            "pop-off valve",
            "pop-off valve recorded open 2026-03-02 08:10 (entry 5); look again now",
        ),
        (
            reason.PopOffSeen("stops", PopOff(False, 5, UTC_AT), AT),
            "pop-off valve",
            "pop-off valve not open when last recorded, 2026-03-02 08:10 (entry 5)",
        ),
        (
            reason.Stands("unknown", ABSORBENT),
            "absorbent change",
            "absorbent: no change is recorded",
        ),
        (
            reason.Stands("remark", ABSORBENT, used=False),
            "absorbent",
            "absorbent: no change is recorded; this circuit does not use it",
        ),
        (
            reason.AbsorbentShort("stops", 3600, 5700),
            "absorbent",
            "the absorbent has 1 h left, the case needs 1 h 35 min: change it first",
        ),
        (
            reason.NoVaporizer("stops", None),
            "vaporizer",
            "no vaporizer stands on it: not ready for an inhaled case",
        ),
        (
            reason.NoVaporizer("stops", "sevoflurane"),
            "vaporizer",
            "no sevoflurane vaporizer stands on it",
        ),
        (
            reason.LevelUnknown("unknown", "iso1"),
            "iso1's level",
            "no level of iso1 is recorded; read the sight glass",
        ),
        (
            agent(Level.OVERFULL),
            "agent",
            f"about 99 mL in iso1 {BY}, more than it holds: read the glass; overfilled, it must "
            "not be used",
        ),
        (agent(Level.LOW), "agent", f"about 99 mL in iso1 {BY}: fill it"),
        (
            agent(Level.LOW, needed=40),
            "agent",
            f"about 99 mL in iso1 {BY}, the case needs 40 mL above the low mark: fill it",
        ),
        (
            agent(Level.UNTOLD, untold=1),
            "agent",
            f"about 99 mL in iso1 {BY}, less 1 case without flow or dial: read the glass",
        ),
        (
            agent(Level.UNTOLD, untold=2),
            "agent",
            f"about 99 mL in iso1 {BY}, less 2 cases without flow or dial: read the glass",
        ),
        (agent(Level.ENOUGH), "agent", f"about 99 mL in iso1 {BY}"),
        (
            reason.PipelineReads("fine", Gauge(Decimal(50), AT), ALLOWED),
            "oxygen",
            "pipeline 50 psi today",
        ),
        (
            reason.PipelineReads("stops", Gauge(Decimal(44), AT), ALLOWED),
            "oxygen",
            "pipeline 44 psi today, allowed 45 to 55 psi",
        ),
        (
            reason.CylinderLow("remark", ON, reserve=True),
            "oxygen",
            "reserve cylinder 1500 psi, 2026-03-02 08:10, US size E: replace it",
        ),
        (
            reason.CylinderLow("stops", OnMachine(2, None, READ), reserve=False),
            "oxygen",
            "cylinder 2 at 1500 psi, 2026-03-02 08:10: replace it",
        ),
        (reason.NoGauge("unknown"), "oxygen", "no oxygen gauge is recorded"),
        (
            reason.NotCounted("remark", OnMachine(2, "4.7L", None)),
            "oxygen",
            "cylinder 2, 4.7 L of water does not count, its gauge is not recorded",
        ),
        (
            reason.NotCounted("remark", OnMachine(2, None, READ)),
            "oxygen",
            "cylinder 2 at 1500 psi, 2026-03-02 08:10 does not count, its size is not recorded",
        ),
        (
            reason.SizeUnknown("unknown", OnMachine(1, None, READ)),
            "the cylinder's size",
            "cylinder 1500 psi, 2026-03-02 08:10, size not recorded: minutes cannot be told",
        ),
        (
            oxygen("fine", ON),
            "oxygen",
            "cylinder 1500 psi, 2026-03-02 08:10, US size E: 99 L can be used above 200 psi",
        ),
        (
            oxygen("stops", ON, needed_l=Decimal(120)),
            "oxygen",
            "cylinder 1500 psi, 2026-03-02 08:10, US size E: 99 L can be used above 200 psi, the "
            "case needs 120 L",
        ),
        (
            oxygen("fine", ON, needed_l=Decimal(60), minutes=66, flow_ml_min=Decimal(1500)),
            "oxygen",
            "cylinder 1500 psi, 2026-03-02 08:10, US size E: about 66 min to use above 200 psi at "
            "1.5 L/min",
        ),
        (
            oxygen("remark", ON, OnMachine(2, "4.7L", READ), used=Decimal("12.34"), untold=2),
            "oxygen",
            "cylinder 1500 psi, 2026-03-02 08:10, US size E; cylinder 2 at 1500 psi, "
            "2026-03-02 08:10, 4.7 L of water, less 12.3 L used since: 99 L can be used above "
            "200 psi, less 2 cases without flow or dial: read the gauge",
        ),
        (
            reason.LeakTestOwed("unknown", None, AT),
            "a leak test since the absorbent change",
            "no leak test since the absorbent change, 2026-03-02 08:10",
        ),
        (
            reason.LeakTestOwed("unknown", "iso1", AT),
            "a leak test since iso1 was fitted",
            "no leak test since iso1 was fitted, 2026-03-02 08:10",
        ),
        (
            reason.LeakTestOwed("unknown", "iso1", AT, away=True),
            "a leak test since iso1 was taken off",
            "no leak test since iso1 was taken off, 2026-03-02 08:10",
        ),
    ],
)
def test_each_reason_has_its_words(one: Reason, about: str, sentence: str) -> None:
    assert reason_words(one) == (about, sentence)


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (ground.NotRecorded(Missing.SERVICE_PLAN), "no service plan is recorded"),
        (ground.Changed(AT), "last change 2026-03-02 08:10"),
        (ground.DoneOn(date(2026, 3, 2)), "last done 2026-03-02"),
        (ground.CheckedOn(date(2026, 3, 2), "failed"), "last check 2026-03-02: failed"),
        (
            ground.Changed(AT, date(2026, 3, 1)),
            "last change 2026-03-02 08:10, expires 2026-03-01",
        ),
        (ground.Charged(Decimal(900), "soda-lime", None, 0), "900 g of soda lime"),
        (
            ground.Charged(Decimal("1200.0"), "soda-lime", (Decimal(1), Decimal("2.04")), 0),
            "1200 g of soda lime; by the flows 1 to 2 L of it reached the granules",
        ),
        (
            ground.Charged(Decimal(1200), "unknown", (Decimal(0), Decimal(0)), 5400),
            "1200 g of absorbent of an unknown kind; by the flows 0 to 0 L of it reached the "
            "granules, 1.5 h without a weight not counted",
        ),
        (
            ground.Seen("violet", date(2026, 3, 2), 7),
            "granules violet at the check of 2026-03-02 (entry 7)",
        ),
        (ground.Failed(date(2026, 3, 2), 7), "the service of 2026-03-02 failed (entry 7)"),
        (ground.RuleEnded(InputError("it ended", "give another")), "it ended; give another"),
    ],
)
def test_each_ground_has_its_words(one: Ground, words: str) -> None:
    assert ground_text(one) == words


def test_what_nobody_can_tell_names_each_missing_record_once() -> None:
    rows = [ReasonRow("unknown", about, "x") for about in ("oxygen", "today's check", "oxygen")]
    told = readiness_text(Readiness.CANNOT_TELL, [*rows, ReasonRow("stops", "use", "x")])
    assert told == "cannot tell: no record of oxygen, today's check"
    assert readiness_text(Readiness.REMARKS, rows) == "ready, with remarks"


def test_every_value_has_words() -> None:
    reasons = {one for one in vars(reason).values() if isinstance(one, type)}
    said = reason_words.registry.keys() - {object}  # type: ignore[attr-defined]
    assert said == {one for one in reasons if issubclass(one, Reason)} - {Reason}
    grounds = ground_text.registry.keys() - {object}  # type: ignore[attr-defined]
    assert grounds == set(get_args(Ground))
