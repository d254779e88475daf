"""A week in which every kind of entry is written once at least."""

from logbook.entries import KINDS
from logbook.ledger.store import stored_rows
from tests.ledger.scribe import Scribe

LIST = """
name = "monthly-hoses"
version = 1
title = "Hoses"
rhythm = "P1M"
[[group]]
title = "Hoses"
[[group.item]]
key = "hoses"
title = "Hoses whole"
kind = "tick"
stops = true
how = "Look along each hose."
why = "A crack leaks."
source = "the clinic"
confidence = "set by the clinic"
"""


def busy_week(tell: Scribe) -> None:
    """Two machines, two vaporizers, and something of everything on them."""
    machines(tell)
    supplies(tell)
    tell.case("2026-03-02 08:10", "2026-03-02 09:45", segments=({"flow_ml_min": "1000"},))
    begun = tell("case_begin", "2026-03-03 08:00", machine="bay1", weight_g="4200")
    segments = ({"duration_s": 600, "flow_ml_min": "2000", "dial_percent": "3"}, {})
    tell("case_end", "2026-03-03 09:00", case_entry=begun, segments=segments)
    failed = {"item": "leak", "state": "failed", "value": "240", "unit": "mL/min", "stops": True}
    rule = {"limit": "leak-flow", "high": "200", "unit": "mL/min", "pressure_cmh2o": "30"}
    tell.check("2026-03-04 07:00", **failed, judgement=rule)
    passed = tell.check("2026-03-04 08:00")
    tell("return_to_service", "2026-03-04 08:05", unit="bay1", evidence_entry=passed)
    tell("fault", "2026-03-04 09:00", unit="iso1", what="tipped", stops=True)
    hiss = tell("fault", "2026-03-04 09:10", unit="bay1", what="leak", detail="hiss")
    tell("fault_close", "2026-03-04 09:20", unit="bay1", fault_entry=hiss, reason="new hose")
    tell("service_plan", "2026-03-01 09:00", unit="bay1", item="service", every="P12M")
    tell("service", "2026-03-04 10:00", unit="iso1", item="output verification", outcome="failed")
    tell(
        "output_verification", "2026-03-04 10:30", vaporizer="iso1", outcome="passed",
        outputs=({"dial_percent": "2", "measured_percent": "2.4"},), tolerance_percent="15",
        tolerance_least_percent="0.05", design="variable-bypass", ambient_kpa="83.4",
    )  # fmt: skip
    tell("rule_change", "2026-03-04 11:00", limit="absorbent-hours", value="6", reason="warm")
    tell("note", "2026-03-04 12:00", text="late delivery")
    tell("restore", "2026-03-04 12:10", from_entries=3, from_head="0" * 64, reason="disk died")
    tell("checklist", "2026-03-04 13:00", checklist="monthly-hoses", version=1, text=LIST)
    tell("machine_retirement", "2026-03-05 18:00", machine="bay2", reason="sold")
    note = tell("note", "2026-03-04 12:00", text="again")
    tell.replace(note, "2026-03-04 12:30", "note", text="again, and louder")
    tell.withdraw(note)
    seen = {row.kind for row in stored_rows(tell.book.connection)}
    lacking = ", ".join(sorted(KINDS.keys() - seen))
    assert not lacking, f"tests/ledger/weeks.py lacks an example of each of these kinds: {lacking}"


def machines(tell: Scribe) -> None:
    for tag in ("bay1", "bay2"):
        tell("machine", "2026-03-01 08:00", machine=tag, scavenging="charcoal")
    tell("machine_change", "2026-03-01 09:00", machine="bay1", location="room 2", reason="moved")
    for tag in ("iso1", "iso2"):
        tell(
            "vaporizer", "2026-03-01 08:00",
            vaporizer=tag, agent="isoflurane", capacity_ml="250", low_mark_ml="25",
        )  # fmt: skip
        tell("vaporizer_fitting", "2026-03-01 08:00", vaporizer=tag, machine="bay1")
    tell("vaporizer_removal", "2026-03-01 10:00", vaporizer="iso2")


def supplies(tell: Scribe) -> None:
    change = {"machine": "bay1", "mass_g": "1200", "expiry": "2027-01-31"}
    tell("absorbent_change", "2026-03-02 07:30", **change)
    tell("agent_fill", "2026-03-02 07:35", vaporizer="iso1", level_ml="200")
    tell("agent_level", "2026-03-02 18:00", vaporizer="iso1", level_ml="180.5")
    tell("oxygen_reading", "2026-03-02 07:40", machine="bay1", cylinder_psi="1500")
    tell("cylinder_change", "2026-03-02 07:45", machine="bay1", size="E", cylinder_psi="1900")
    tell("charcoal_change", "2026-03-02 07:50", machine="bay1", weight_g="210")
    tell("charcoal_weight", "2026-03-02 18:00", machine="bay1", weight_g="231.5")
