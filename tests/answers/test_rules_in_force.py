"""A limit counts from the time of its change, and a machine's own before the clinic's."""

from decimal import Decimal

from logbook.answers.rules import rulebook, rules_set
from logbook.limits import LIMITS
from tests.ledger.scribe import Scribe


def value(tell: Scribe, at: str, machine: str | None = None, limit: str = "absorbent-hours"):
    rules = rulebook(tell.book.connection, tell.moment(at).at_s)
    return rules.for_machine(machine)[limit]


def change(tell: Scribe, at: str, new: str, machine: str | None = None) -> int:
    told = {"limit": "absorbent-hours", "value": new, "machine": machine, "reason": "warm room"}
    return tell("rule_change", at, **told)


def test_without_a_change_the_defaults_count(bays: Scribe) -> None:
    for name, limit in LIMITS.items():
        assert value(bays, "2026-03-02 08:00", "bay1", name) == limit.value


def test_a_change_counts_from_its_time_for_the_whole_clinic(bays: Scribe) -> None:
    change(bays, "2026-03-02 08:00", "6")
    assert value(bays, "2026-03-02 07:59", "bay1") == 8
    for machine in ("bay1", "bay2", None):
        assert value(bays, "2026-03-02 08:00", machine) == 6


def test_a_change_of_one_machine_goes_before_the_clinics_whichever_came_first(
    bays: Scribe,
) -> None:
    change(bays, "2026-03-02 08:00", "5", "bay1")
    change(bays, "2026-03-03 08:00", "6")
    assert [value(bays, "2026-03-04 08:00", tag) for tag in ("bay1", "bay2")] == [5, 6]


def test_the_latest_change_counts_in_whatever_order_they_were_told(bays: Scribe) -> None:
    change(bays, "2026-03-03 08:00", "6")
    change(bays, "2026-03-02 08:00", "5")
    assert value(bays, "2026-03-04 08:00") == 6
    assert value(bays, "2026-03-02 12:00") == 5


def test_a_change_tells_its_reason_and_its_entry(bays: Scribe) -> None:
    seq = change(bays, "2026-03-02 08:00", "6.5", "bay1")
    at_s = bays.moment("2026-03-04 08:00").at_s
    (told,) = [one for one in rules_set(bays.book.connection, at_s) if one.entry]
    assert (told.entry, told.machine, told.value) == (seq, "bay1", Decimal("6.5"))
    assert (told.reason, told.source, told.confidence) == (
        "warm room",
        "set by the clinic",
        "set by the clinic",
    )


def test_what_is_due_follows_the_rule_in_force_when_it_is_asked(bays: Scribe) -> None:
    bays("absorbent_change", "2026-03-02 07:00", machine="bay1")
    bays.case("2026-03-02 08:00", "2026-03-02 13:00")
    change(bays, "2026-03-03 08:00", "5", "bay1")
    assert bays.standing("2026-03-03 07:59", "absorbent", "hours in use") == "ok"
    assert bays.standing("2026-03-03 08:00", "absorbent", "hours in use") == "due"


def test_due_soon_is_a_rule_too(bays: Scribe) -> None:
    bays("absorbent_change", "2026-03-02 07:00", machine="bay1")
    bays.case("2026-03-02 08:00", "2026-03-02 12:00")
    for limit, new in (("due-soon-share", "50"), ("due-soon-days", "12")):
        bays("rule_change", "2026-03-03 08:00", limit=limit, value=new, reason="x")
    for clock in ("hours in use", "days since the change"):
        assert bays.standing("2026-03-03 07:59", "absorbent", clock) == "ok"
    assert bays.standing("2026-03-03 08:00", "absorbent", "hours in use") == "due soon"
    assert bays.standing("2026-03-04 08:00", "absorbent", "days since the change") == "due soon"
