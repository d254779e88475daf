"""What stood against a machine when a case began is told with the case, for ever."""

from logbook.answers.cases import CaseLine, case_list
from tests.ledger.scribe import Scribe


def cases(tell: Scribe, at: str = "2026-03-06 12:00", machine: str | None = None) -> list[CaseLine]:
    return case_list(tell.book.connection, tell.moment(at), 0, machine)


def flags(tell: Scribe) -> list[str]:
    (line,) = cases(tell)
    return line.flags


def prepare(tell: Scribe) -> None:
    """Everything done that a case needs."""
    tell("absorbent_change", "2026-03-02 07:00", machine="bay1")
    tell.check("2026-03-02 07:30")


def test_a_prepared_machine_has_no_flag(bays: Scribe) -> None:
    prepare(bays)
    bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(bays) == []


def test_a_case_without_a_check_that_day_is_flagged(bays: Scribe) -> None:
    prepare(bays)
    bays.case("2026-03-03 08:00", "2026-03-03 09:00")
    bays.check("2026-03-03 08:01")
    assert flags(bays) == ["no daily check of bay1 that day before the case"]


def test_a_case_after_a_failed_or_unfinished_check_is_flagged(bays: Scribe) -> None:
    prepare(bays)
    seq = bays.check("2026-03-02 07:40", state="not done", reason="called away")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(bays) == [f"daily check incomplete (entry {seq})"]


def test_a_case_on_what_is_out_of_service_is_flagged(bays: Scribe) -> None:
    prepare(bays)
    bays("fault", "2026-03-02 08:00", unit="bay1", what="leak", stops=True)
    bays("fault", "2026-03-02 07:50", unit="iso1", what="tipped")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(bays) == [
        "bay1 out of service since 2026-03-02 08:00: leak (entry 9)",
        "iso1 out of service since 2026-03-02 07:50: tipped (entry 10)",
    ]


def test_a_vaporizer_that_the_case_names_is_flagged_wherever_it_stood(bays: Scribe) -> None:
    prepare(bays)
    bays("vaporizer", "2026-03-01 08:00", vaporizer="iso2", agent="isoflurane")
    bays("fault", "2026-03-02 07:50", unit="iso2", what="dropped")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(bays) == []
    bays.case("2026-03-02 09:00", "2026-03-02 10:00", vaporizer="iso2")
    assert cases(bays)[1].flags == [
        "iso2 out of service since 2026-03-02 07:50: dropped (entry 10)"
    ]


def test_a_case_on_overdue_absorbent_is_flagged_as_it_stood_at_its_begin(bays: Scribe) -> None:
    prepare(bays)
    bays.case("2026-03-02 08:00", "2026-03-02 16:30")
    bays.check("2026-03-03 07:00")
    bays.case("2026-03-03 08:00", "2026-03-03 09:00")
    bays("absorbent_change", "2026-03-03 08:30", machine="bay1")
    first, second = cases(bays)
    assert first.flags == []
    assert second.flags == ["overdue: absorbent 8.5 of 8 h in use (last change 2026-03-02 07:00)"]


def test_a_case_past_the_date_of_a_service_is_flagged(bays: Scribe) -> None:
    prepare(bays)
    for unit, item in (("bay1", "service"), ("iso1", "output verification")):
        plan = {"unit": unit, "item": item, "every": "P12M"}
        bays("service_plan", "2026-03-01 08:00", last="2025-02-28", **plan)
    bays("machine_change", "2026-03-01 08:00", machine="bay1", scavenging="charcoal", reason="x")
    bays("charcoal_change", "2026-03-01 08:00", machine="bay1", weight_g="200")
    bays("charcoal_weight", "2026-03-02 07:00", machine="bay1", weight_g="250")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(bays) == [
        "due: charcoal 50 of 50 g weight gained (last change 2026-03-01 08:00)",
        "overdue: service due on Sat 2026-02-28 (last done 2025-02-28)",
        "overdue: iso1 output verification due on Sat 2026-02-28 (last done 2025-02-28)",
    ]


def test_an_absorbent_without_a_record_is_flagged(bays: Scribe) -> None:
    bays.check("2026-03-02 07:30")
    bays.case("2026-03-02 08:00", "2026-03-02 09:00")
    assert flags(bays) == ["absorbent: no change is recorded"]


def test_a_case_is_told_as_it_stands_after_its_corrections(bays: Scribe) -> None:
    seq = bays.case("2026-03-02 08:00", "2026-03-02 09:00", species="cat")
    bays("case_begin", "2026-03-02 10:00", machine="bay1", segments=({"flow_ml_min": "900"},))
    fields = {"machine": "bay2", "ended_at": "2026-03-02T17:00:00Z", "species": "dog"}
    fix = bays.replace(seq, "2026-03-02 08:00", "case", **fields)
    first, second = cases(bays)
    assert (first.entry, first.machine, first.species, first.ran_s) == (seq, "bay2", "dog", 7200)
    assert (first.corrected_by, first.by, first.vaporizers) == (fix, "KO", [])
    assert (second.ended_at, second.ran_s, second.vaporizers) == (None, None, ["iso1"])
    assert [setting.flow_ml_min for setting in second.settings] == [900]
    assert [line.entry for line in cases(bays, machine="bay2")] == [seq]


def test_what_is_due_soon_is_no_flag(bays: Scribe) -> None:
    prepare(bays)
    bays.case("2026-03-02 08:00", "2026-03-02 15:59")
    assert bays.standing("2026-03-02 16:00", "absorbent", "hours in use") == "due soon"
    bays.case("2026-03-02 16:00", "2026-03-02 16:01")
    bays.case("2026-03-02 16:01", "2026-03-02 16:02")
    soon, due = cases(bays)[1:]
    assert soon.flags == []
    assert [flag.split(":")[0] for flag in due.flags] == ["due"]
