"""What follows from an entry, as values, on each bound and a step beyond it."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from logbook.answers.consequence import (
    AboveCapacity,
    Care,
    Caution,
    ComesBack,
    Consequence,
    CylinderLow,
    Expired,
    Flagged,
    HoursLeft,
    IsEvidence,
    ItemFailed,
    LeakTestFirst,
    Left,
    NotChecked,
    NotToBeUsed,
    NowDue,
    NowSays,
    OldCharge,
    OutOfService,
    Ran,
    RanLong,
    Stands,
    StaysInService,
    UseSeen,
)
from logbook.answers.consequences import consequences
from logbook.answers.finding import Audited, CasePastAbsorbent
from logbook.answers.register import Register
from logbook.answers.service_state import Back
from logbook.checklists import POP_OFF_OPEN
from logbook.entries import KINDS
from logbook.errors import Act
from logbook.ledger.store import read_entry
from tests.ledger.scribe import Scribe, denver

NOON = "2026-03-02 12:00"
Follows = Callable[..., list[Consequence]]


@pytest.fixture
def follows(bays: Scribe) -> Follows:
    """What follows from an entry that is told, at the moment after it or at ``seen``."""

    def told(
        kind: str, at: str = NOON, seen: str | None = None, **fields: Any
    ) -> list[Consequence]:
        seq = bays(kind, at, **fields)
        entry = read_entry(bays.book.connection, seq)
        assert entry is not None
        return consequences(Register(bays.book.connection), entry, bays.moment(seen or at))

    return told


def kinds(found: list[Consequence]) -> list[type[Consequence]]:
    return [type(one) for one in found]


@pytest.mark.parametrize(
    ("seen_open", "first", "last"),
    [(False, Care.POP_OFF_SHUT, None), (True, None, None), (None, None, Care.POP_OFF_UNSEEN)],
)
def test_a_case_that_begins_says_first_what_is_shut_and_last_what_nobody_saw(
    follows: Follows, seen_open: bool | None, first: Care | None, last: Care | None
) -> None:
    found = follows("case_begin", machine="bay1", circuit="unknown", pop_off_open=seen_open)
    cares = [one for one in found if isinstance(one, Caution)]
    assert cares == [Caution(care) for care in (first, last) if care]
    assert found.index(cares[0]) == (0 if first else len(found) - 1) if cares else True
    flags = [one for one in found if isinstance(one, Flagged)]
    assert [one.flag.finding for one in flags] == [
        Audited.WITHOUT_CHECK, Audited.UNKNOWN_ABSORBENT
    ]  # fmt: skip
    assert all(one.attention for one in flags)


def test_a_case_that_ends_tells_how_long_it_ran_by_what_its_begin_says_now(
    bays: Scribe, follows: Follows
) -> None:
    seq = bays("case_begin", "2026-03-02 08:00", machine="bay1", circuit="unknown")
    assert follows("case_end", "2026-03-02 09:35", case_entry=seq) == [Ran("bay1", 5_700)]
    other = bays("case_begin", "2026-03-02 10:00", machine="bay1", circuit="unknown")
    bays.replace(other, "2026-03-02 10:30", "case_begin", machine="bay2", circuit="unknown")
    assert follows("case_end", "2026-03-02 11:00", case_entry=other) == [Ran("bay2", 1_800)]


@pytest.mark.parametrize(("minute", "long"), [("00", False), ("01", True)])
def test_a_case_longer_than_six_hours_asks_whether_its_end_was_forgotten(
    bays: Scribe, follows: Follows, minute: str, long: bool
) -> None:
    seq = bays("case_begin", "2026-03-02 08:00", machine="bay1", circuit="unknown")
    found = follows("case_end", f"2026-03-02 14:{minute}", case_entry=seq)
    asked = [one for one in found if isinstance(one, RanLong)]
    expected = RanLong(seq, "bay1", 6 * 3600 + 60, None)
    assert asked == ([expected] if long else [])
    assert (expected.act, expected.about, expected.attention) == (Act.CORRECT_END, str(seq), True)


@pytest.mark.parametrize(("minutes", "long"), [(90, False), (91, True)])
def test_a_case_three_times_as_long_as_is_usual_on_its_machine_is_asked_about(
    bays: Scribe, follows: Follows, minutes: int, long: bool
) -> None:
    for hour in range(7, 12):
        bays.case(f"2026-03-02 {hour:02}:00", f"2026-03-02 {hour:02}:30")
    began = denver("2026-03-02 12:00")
    ended = began + timedelta(minutes=minutes)
    found = follows(
        "case", "2026-03-02 12:00", "2026-03-02 14:00", machine="bay1", circuit="unknown",
        ended_at=ended,
    )  # fmt: skip
    asked = [one for one in found if isinstance(one, RanLong)]
    assert [one.usual_s for one in asked] == ([1800] if long else [])


def test_the_end_of_a_case_tells_what_the_absorbent_has_left(
    bays: Scribe, follows: Follows
) -> None:
    bays("absorbent_change", "2026-03-02 07:00", machine="bay1")
    seq = bays("case_begin", "2026-03-02 08:00", machine="bay1", circuit="adult rebreathing")
    found = follows("case_end", "2026-03-02 09:30", case_entry=seq)
    assert found == [Ran("bay1", 5400), HoursLeft("bay1", 23_400, Decimal(8))]


def test_a_change_of_absorbent_tells_the_hours_and_days_of_the_old_charge(
    bays: Scribe, follows: Follows
) -> None:
    assert follows("absorbent_change", "2026-03-02 07:00", machine="bay1") == []
    bays.case("2026-03-02 08:00", "2026-03-02 16:20")
    found = follows("absorbent_change", "2026-03-06 07:00", machine="bay1")
    assert found == [OldCharge(30_000, 4)]


def test_absorbent_that_ran_out_during_the_case_is_told_at_once(
    bays: Scribe, follows: Follows
) -> None:
    bays("absorbent_change", "2026-03-02 07:00", machine="bay1")
    case = {"machine": "bay1", "circuit": "adult rebreathing"}
    short = follows("case", "2026-03-02 08:00", ended_at=denver("2026-03-02 09:00"), **case)
    assert NowDue not in kinds(short)
    long = follows(
        "case", "2026-03-02 09:00", "2026-03-02 19:00", ended_at=denver("2026-03-02 19:00"), **case
    )
    flags = [one.flag for one in long if isinstance(one, Flagged)]
    assert [type(one) for one in flags].count(CasePastAbsorbent) == 1
    assert NowDue not in kinds(long), "it is said once"
    begun = bays("case_begin", "2026-03-02 20:00", **case)
    (_, now_due) = follows("case_end", "2026-03-02 20:05", case_entry=begun)
    assert isinstance(now_due, NowDue)
    assert (now_due.item.unit, now_due.item.item, now_due.attention) == ("bay1", "absorbent", True)


@pytest.mark.parametrize(("days", "is_expired"), [(-1, True), (0, False), (1, False)])
def test_absorbent_is_expired_the_day_after_its_date(
    follows: Follows, days: int, is_expired: bool
) -> None:
    expiry = date(2026, 3, 2) + timedelta(days=days)
    # Ten at night in Denver is the next day by UTC.
    found = follows("absorbent_change", "2026-03-02 22:00", machine="bay1", expiry=expiry)
    assert found == ([Expired(expiry, agent=False)] if is_expired else [])


@pytest.mark.parametrize(("level", "above"), [("250", False), ("250.1", True)])
def test_a_level_above_what_the_vaporizer_holds_is_told_with_what_to_do(
    follows: Follows, level: str, above: bool
) -> None:
    for kind in ("agent_fill", "agent_level"):
        found = follows(kind, vaporizer="iso1", level_ml=level)
        assert isinstance(found[0], Left)
        assert (AboveCapacity("iso1") in found) == above
    assert (AboveCapacity.act, AboveCapacity("iso1").about) == (Act.REPORT_OVERFILLED, "iso1")


def test_use_is_compared_with_the_level_before(bays: Scribe, follows: Follows) -> None:
    bays("agent_level", "2026-03-02 08:00", vaporizer="iso1", level_ml="240")
    (seen,) = (
        one
        for one in follows("agent_level", vaporizer="iso1", level_ml="200")
        if isinstance(one, UseSeen)
    )
    assert (seen.compared.seen, seen.measure) == (Decimal(40), "mL")


@pytest.mark.parametrize(("gauge", "low"), [("200", False), ("199.9", True), (None, False)])
def test_a_cylinder_below_the_limit_is_told(follows: Follows, gauge: str | None, low: bool) -> None:
    expected = [CylinderLow(Decimal(200))] if low else []
    told = {"machine": "bay1", "cylinder_psi": gauge}
    assert follows("oxygen_reading", pipeline_psi="50", **told) == expected
    assert follows("cylinder_change", size="E", **told) == expected


def test_a_canister_and_a_service_tell_how_their_clocks_stand(
    bays: Scribe, follows: Follows
) -> None:
    bays("machine_change", "2026-03-02 07:00", machine="bay1", scavenging="charcoal", reason="x")
    bays("charcoal_change", "2026-03-02 07:00", machine="bay1", weight_g="780")
    weighed = follows("charcoal_weight", machine="bay1", weight_g="800")
    assert {type(one) for one in weighed} == {Stands}
    planned = follows("service_plan", unit="bay1", item="service", every="P6M")
    assert [one.item.item for one in planned if isinstance(one, Stands)] == ["service"]
    service = {"unit": "bay1", "item": "service"}
    assert kinds(follows("service", outcome="passed", **service)) == [Stands]
    assert follows("service", outcome="failed", **service)[0] == OutOfService("bay1")


def test_a_fault_that_stops_says_how_the_unit_comes_back(follows: Follows) -> None:
    stays = follows("fault", unit="bay2", what="leak", stops=False)
    assert stays == [StaysInService("bay2")]
    assert (StaysInService.act, stays[0].about) == (Act.TAKE_OUT, "bay2")
    out, back = follows("fault", unit="bay2", what="leak", stops=True)
    assert out == OutOfService("bay2", until_cleared=True)
    comes_back = ComesBack("bay2", Back.CHECK_OR_SERVICE)
    assert (back, back.act, back.about) == (comes_back, Act.RETURN_TO_SERVICE, "bay2")


def test_a_passed_check_of_what_is_still_out_of_service_says_so_and_is_the_evidence(
    bays: Scribe, follows: Follows
) -> None:
    bays("fault", "2026-03-02 08:00", unit="bay2", what="leak", stops=True)
    check = {"machine": "bay2", "checklist": "own", "version": 1}
    check["answers"] = ({"item": "bag", "state": "passed"},)
    out, evidence = follows("check", **check)
    assert (out, out.first, out.attention) == (OutOfService("bay2"), True, True)
    assert isinstance(evidence, IsEvidence)
    assert (evidence.unit, evidence.act, evidence.about) == ("bay2", Act.RETURN_ON, "bay2")
    bays("return_to_service", "2026-03-02 12:05", unit="bay2", evidence_entry=evidence.entry)
    assert follows("check", "2026-03-02 12:06", **check) == []


def test_a_service_that_is_no_verification_brings_no_vaporizer_back(
    bays: Scribe, follows: Follows
) -> None:
    bays("fault", "2026-03-02 08:00", unit="iso1", what="tipped")
    found = follows("service", unit="iso1", item="dusting", outcome="passed")
    assert found == [OutOfService("iso1"), ComesBack("iso1", Back.OUTPUT_VERIFICATION)]
    verification = {"unit": "iso1", "item": "output verification", "outcome": "passed"}
    assert IsEvidence in kinds(follows("service", "2026-03-02 13:00", **verification))


@pytest.mark.parametrize(("added", "above"), [("12", False), ("12.1", True)])
def test_what_is_poured_in_above_the_capacity_is_told_like_a_level(
    bays: Scribe, follows: Follows, added: str, above: bool
) -> None:
    bays("agent_level", "2026-03-02 08:00", vaporizer="iso1", level_ml="238")
    found = follows("agent_fill", vaporizer="iso1", added_ml=added)
    assert (AboveCapacity("iso1") in found) == above


def test_a_vaporizer_that_is_fitted_is_tested_for_leaks_or_not_used_at_all(
    bays: Scribe, follows: Follows
) -> None:
    fitting = {"vaporizer": "iso1", "machine": "bay2"}
    assert follows("vaporizer_fitting", **fitting) == [
        LeakTestFirst("bay2", "iso1"), LeakTestFirst("bay1", "iso1", away=True)
    ]  # fmt: skip
    bays("fault", NOON, unit="iso1", what="tipped", stops=True)
    assert kinds(follows("vaporizer_fitting", "2026-03-02 13:00", **fitting)) == [NotToBeUsed]


def test_a_machine_whose_vaporizer_was_taken_off_is_tested_for_leaks(
    bays: Scribe, follows: Follows
) -> None:
    off = [LeakTestFirst("bay1", "iso1", away=True)]
    assert follows("vaporizer_removal", vaporizer="iso1") == off


def test_a_check_tells_what_failed_and_what_that_means(follows: Follows) -> None:
    def check(*answers: dict[str, Any]) -> list[Consequence]:
        return follows("check", machine="bay1", checklist="own", version=1, answers=answers)

    assert check({"item": "bag", "state": "passed"}) == []
    failed = {"item": "bag", "state": "failed"}
    assert kinds(check(failed)) == [ItemFailed]
    due = {"item": "granules", "state": "failed", "choice": "violet", "absorbent_due": True}
    assert check(due)[1] == Caution(Care.CHANGE_ABSORBENT)
    not_done = {"state": "not done", "reason": "no time"}
    assert check({"item": "bag", **not_done}) == [NotChecked("bay1")]
    last = {"item": POP_OFF_OPEN, **not_done}
    assert check(last) == [Caution(Care.POP_OFF_UNCONFIRMED), NotChecked("bay1")]
    assert Caution(Care.POP_OFF_UNCONFIRMED) not in check({**last, "state": "passed"})
    assert check({**failed, "stops": True})[0] == OutOfService("bay1")


def test_a_correction_tells_what_the_entry_says_now(bays: Scribe, follows: Follows) -> None:
    seq = bays("note", NOON, text="caster squeaks")
    replaced = {"text": "wheel squeaks"}
    (says,) = follows(
        "correction", corrects=seq, withdrawn=False, reason="slip", body=replaced,
        happened_at="2026-03-02T19:00:00Z",
    )  # fmt: skip
    assert isinstance(says, NowSays)
    assert says.entry.seq == seq
    assert says.entry.body.canonical() == '{"text":"wheel squeaks"}'
    assert follows("correction", corrects=seq, withdrawn=True, reason="never was") == []


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("note", {"text": "x"}),
        ("charcoal_change", {"machine": "bay1"}),
        ("rule_change", {"limit": "absorbent-hours", "value": "6", "reason": "x"}),
        ("machine_change", {"machine": "bay1", "location": "room 2", "reason": "moved"}),
    ],
)
def test_nothing_follows_from_what_only_is_written_down(
    follows: Follows, kind: str, fields: dict[str, Any]
) -> None:
    assert kind in KINDS
    assert follows(kind, **fields) == []
