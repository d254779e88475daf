"""What each kind of entry means: the entry in, its rows out, written by hand."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from logbook.entries import KINDS, model
from logbook.ledger.store import Entry
from logbook.projections.facts import facts, mentions
from logbook.times import utc_text

AT = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)
AT_S = 1_772_463_600
"""The same instant in seconds since 1970."""
END = "2026-03-02T16:00:00Z"
FLOWS = {"flow_ml_min": "1000.5", "dial_percent": "2"}
FIRST = {"duration_s": 600, "flow_ml_min": "2000", "dial_percent": "20"}
LEAK = {"item": "leak", "state": "passed", "value": "150", "unit": "mL/min", "tests": "leak"}
SHUT = {"item": "pop-off-open", "state": "failed", "stops": True}
GRANULES = {"item": "colour", "state": "failed", "choice": "violet", "absorbent_due": True}
CYLINDERS = [
    {"item": "left", "state": "passed", "value": "1500", "unit": "psi", "reads": "cylinder"},
    {
        "item": "right",
        "state": "passed",
        "value": "1200",
        "unit": "psi",
        "reads": "cylinder",
        "number": 2,
    },
    {"item": "pipeline-pressure", "state": "passed", "value": "51", "unit": "psi"},
]
OLD_KEYS = [
    {"item": "cylinder-pressure", "state": "passed", "value": "1500", "unit": "psi"},
    {"item": "pipeline-pressure", "state": "passed", "value": "51", "unit": "psi"},
    {"item": "charcoal-weight", "state": "passed", "value": "231.5", "unit": "g"},
    {"item": "breathing-system-leak", "state": "passed", "value": "150", "unit": "mL/min"},
]
"""Items of 0.1.0, which are known by their keys."""
WALKED = {"machine": "bay1", "checklist": "daily", "version": 1}
Rows = list[tuple[str, dict[str, Any]]]


def entry(kind: str, fields: dict[str, Any]) -> Entry:
    return Entry(7, kind, AT, AT, "KO", model(kind).of(**fields))


def told(rows: list[tuple[Any, dict[str, Any]]]) -> Rows:
    """The rows by their table's name, without what is null, the entry's number and who signed."""
    for _, row in rows:
        assert row["entry"] == 7
        assert row.get("by", "KO") == "KO"
    return [
        (table.name, {k: v for k, v in row.items() if v is not None and k not in ("entry", "by")})
        for table, row in rows
    ]


BEGUN = AT - timedelta(seconds=60)
HURRIED = [
    {"item": "bag", "state": "passed", "at": utc_text(BEGUN)},
    {"item": "hold", "state": "passed", "held_s": 12, "at": utc_text(AT - timedelta(seconds=50))},
]


def at(**columns: Any) -> dict[str, Any]:
    return {"at_s": AT_S} | columns


def answer(item: str, state: str, **columns: Any) -> tuple[str, dict[str, Any]]:
    return "check_answer", {"item": item, "state": state, "absorbent_due": False} | columns


def walked(verdict: str, **columns: Any) -> tuple[str, dict[str, Any]]:
    return "check", at(
        **WALKED, verdict=verdict, **{"leak_passed": False, "recorded_s": AT_S} | columns
    )


MEANINGS: list[tuple[str, dict[str, Any], Rows]] = [
    (
        "clinic",
        {"name": "Alder Creek", "timezone": "America/Denver"},
        [
            (
                "clinic",
                at(name="Alder Creek", timezone="America/Denver", listing_day="friday"),
            )
        ],
    ),
    ("staff", {"initials": "KO"}, [("staff", {"initials": "KO"})]),
    (
        "machine",
        {"machine": "bay1", "absorbent_g": "1200", "scavenging": "charcoal"},
        [
            (
                "machine",
                at(machine="bay1", event="added", absorbent_g=Decimal(1200), scavenging="charcoal"),
            )
        ],
    ),
    (
        "machine_change",
        {"machine": "bay1", "location": "room 2", "reason": "moved"},
        [("machine", at(machine="bay1", event="changed", location="room 2"))],
    ),
    (
        "machine_retirement",
        {"machine": "bay1", "reason": "sold"},
        [("machine", at(machine="bay1", event="retired"))],
    ),
    (
        "vaporizer",
        {"vaporizer": "iso1", "agent": "isoflurane", "capacity_ml": "250", "low_mark_ml": "25"},
        [
            (
                "vaporizer",
                at(
                    vaporizer="iso1",
                    agent="isoflurane",
                    capacity_ml=Decimal(250),
                    low_mark_ml=Decimal(25),
                ),
            )
        ],
    ),
    (
        "vaporizer_fitting",
        {"vaporizer": "iso1", "machine": "bay1"},
        [("fitting", at(vaporizer="iso1", machine="bay1"))],
    ),
    ("vaporizer_removal", {"vaporizer": "iso1"}, [("fitting", at(vaporizer="iso1"))]),
    (
        "check",
        WALKED | {"answers": [LEAK, SHUT, GRANULES]},
        [
            walked("failed", leak_passed=True, pop_off_open=False, exhausted="violet"),
            answer("leak", "passed", value=Decimal(150), unit="mL/min", tested="leak"),
            answer("pop-off-open", "failed"),
            answer("colour", "failed", choice="violet", absorbent_due=True),
            (
                "fault",
                at(unit="bay1", what="check failed", detail="pop-off-open", stops=True),
            ),
        ],
    ),
    (
        "check",
        WALKED | {"begun": utc_text(BEGUN), "answers": HURRIED},
        [
            walked("passed", begun_s=AT_S - 60, hasty="hold"),
            answer("bag", "passed"),
            answer("hold", "passed", held_s=12),
        ],
    ),
    (
        "check",
        WALKED | {"answers": OLD_KEYS},
        [
            walked("passed", leak_passed=True),
            answer("cylinder-pressure", "passed", value=Decimal(1500), unit="psi"),
            answer("pipeline-pressure", "passed", value=Decimal(51), unit="psi"),
            answer("charcoal-weight", "passed", value=Decimal("231.5"), unit="g"),
            answer(
                "breathing-system-leak",
                "passed",
                value=Decimal(150),
                unit="mL/min",
                tested="leak",
            ),
            (
                "oxygen",
                at(
                    machine="bay1",
                    event="reading",
                    number=1,
                    cylinder_psi=Decimal(1500),
                    pipeline_psi=Decimal(51),
                ),
            ),
            ("charcoal", at(machine="bay1", event="weighing", weight_g=Decimal("231.5"))),
        ],
    ),
    (
        "check",
        WALKED | {"answers": CYLINDERS},
        [
            walked("passed"),
            answer("left", "passed", value=Decimal(1500), unit="psi"),
            answer("right", "passed", value=Decimal(1200), unit="psi"),
            answer("pipeline-pressure", "passed", value=Decimal(51), unit="psi"),
            (
                "oxygen",
                at(
                    machine="bay1",
                    event="reading",
                    number=1,
                    cylinder_psi=Decimal(1500),
                    pipeline_psi=Decimal(51),
                ),
            ),
            ("oxygen", at(machine="bay1", event="reading", number=2, cylinder_psi=Decimal(1200))),
        ],
    ),
    (
        "check",
        WALKED | {"answers": CYLINDERS[1:2]},
        [
            walked("passed"),
            answer("right", "passed", value=Decimal(1200), unit="psi"),
            ("oxygen", at(machine="bay1", event="reading", number=2, cylinder_psi=Decimal(1200))),
        ],
    ),
    (
        "checklist",
        {"checklist": "hoses", "version": 1, "text": "name = 'hoses'"},
        [("checklist", {"checklist": "hoses", "version": 1, "text": "name = 'hoses'"})],
    ),
    (
        "case",
        {"machine": "bay1", "ended_at": END, "weight_g": "1000", "segments": [FIRST, FLOWS]},
        [
            (
                "case",
                {
                    "machine": "bay1",
                    "began_s": AT_S,
                    "ended_s": AT_S + 3600,
                    "circuit": "unknown",
                    "weight_g": Decimal(1000),
                    # 516 µmol of 24.055 µL each, of a kilogram.
                    "co2_nl_min": 12_412_380,
                },
            ),
            (
                "segment",
                {
                    "n": 1,
                    "duration_s": 600,
                    "flow_ml_min": Decimal(2000),
                    "dial_percent": Decimal(20),
                    "from_s": 0,
                    "to_s": 600,
                    "flow_nl_min": 2_000_000_000,
                    # 20 parts of vapour on 80 of fresh gas: 500 mL/min.
                    "vapour_pl_min": 500_000_000_000,
                },
            ),
            (
                "segment",
                {
                    "n": 2,
                    "flow_ml_min": Decimal("1000.5"),
                    "dial_percent": Decimal(2),
                    "from_s": 600,
                    "flow_nl_min": 1_000_500_000,
                    # 2 on 98 of 1000.5 mL/min, rounded up.
                    "vapour_pl_min": 20_418_367_347,
                },
            ),
        ],
    ),
    (
        "case_begin",
        {"machine": "bay1", "vaporizer": "iso1", "pop_off_open": False},
        [
            (
                "case",
                {
                    "machine": "bay1",
                    "began_s": AT_S,
                    "circuit": "unknown",
                    "vaporizer": "iso1",
                    "pop_off_open": False,
                },
            )
        ],
    ),
    (
        "case_end",
        {"case_entry": 5, "segments": [{"flow_ml_min": "800"}]},
        [
            ("case_end", {"case_entry": 5, "ended_s": AT_S}),
            (
                "segment",
                {
                    "n": 1,
                    "flow_ml_min": Decimal(800),
                    "from_s": 0,
                    "flow_nl_min": 800_000_000,
                },
            ),
        ],
    ),
    (
        "absorbent_change",
        {"machine": "bay1", "mass_g": "1200", "lot": "L-4", "expiry": "2027-01-31"},
        [
            (
                "absorbent_change",
                at(machine="bay1", mass_g=Decimal(1200), lot="L-4", expiry=date(2027, 1, 31)),
            )
        ],
    ),
    (
        "agent_fill",
        {"vaporizer": "iso1", "added_ml": "40", "level_ml": "200"},
        [
            (
                "agent_level",
                at(vaporizer="iso1", event="fill", added_ml=Decimal(40), level_ml=Decimal(200)),
            )
        ],
    ),
    (
        "agent_level",
        {"vaporizer": "iso1", "level_ml": "180.5"},
        [("agent_level", at(vaporizer="iso1", event="reading", level_ml=Decimal("180.5")))],
    ),
    (
        "oxygen_reading",
        {"machine": "bay1", "pipeline_psi": "51"},
        [("oxygen", at(machine="bay1", event="reading", number=1, pipeline_psi=Decimal(51)))],
    ),
    (
        "cylinder_change",
        {"machine": "bay1", "size": "E", "cylinder_psi": "1900"},
        [
            (
                "oxygen",
                at(machine="bay1", event="change", number=1, size="E", cylinder_psi=Decimal(1900)),
            )
        ],
    ),
    (
        "charcoal_change",
        {"machine": "bay1", "weight_g": "210"},
        [("charcoal", at(machine="bay1", event="change", weight_g=Decimal(210)))],
    ),
    (
        "charcoal_weight",
        {"machine": "bay1", "weight_g": "231"},
        [("charcoal", at(machine="bay1", event="weighing", weight_g=Decimal(231)))],
    ),
    (
        "service_plan",
        {"unit": "iso1", "item": "service", "every": "P12M", "last": "2025-12-01"},
        [("service_plan", at(unit="iso1", item="service", every="P12M", last=date(2025, 12, 1)))],
    ),
    (
        "service",
        {"unit": "iso1", "item": "service", "outcome": "failed", "done_by": "the maker"},
        [
            ("service", at(unit="iso1", item="service", outcome="failed", done_by="the maker")),
            ("fault", at(unit="iso1", what="service failed", stops=True)),
        ],
    ),
    (
        "output_verification",
        {
            "vaporizer": "iso1",
            "outcome": "failed",
            "design": "variable-bypass",
            "outputs": [{"dial_percent": "2", "measured_percent": "4.61"}],
            "tolerance_percent": "15",
            "tolerance_least_percent": "0.05",
            "ambient_kpa": "50.6625",
        },
        [
            ("service", at(unit="iso1", item="output verification", outcome="failed")),
            ("fault", at(unit="iso1", what="output verification failed", stops=True)),
            (
                "output",
                at(
                    n=1,
                    vaporizer="iso1",
                    dial_percent=Decimal(2),
                    measured_percent=Decimal("4.61"),
                    expected_percent=Decimal(4),
                    low_percent=Decimal("3.4"),
                    high_percent=Decimal("4.6"),
                ),
            ),
        ],
    ),
    (
        "service",
        {"unit": "iso1", "item": "service", "outcome": "passed"},
        [("service", at(unit="iso1", item="service", outcome="passed"))],
    ),
    (
        "fault",
        {"unit": "bay1", "what": "leak", "detail": "hose"},
        [("fault", at(unit="bay1", what="leak", detail="hose", stops=False))],
    ),
    (
        "fault",
        {"unit": "iso1", "what": "tipped"},
        [("fault", at(unit="iso1", what="tipped", stops=True))],
    ),
    (
        "fault_close",
        {"unit": "bay1", "fault_entry": 6, "reason": "new hose"},
        [("fault_close", at(unit="bay1", fault_entry=6, reason="new hose"))],
    ),
    (
        "return_to_service",
        {"unit": "bay1", "evidence_entry": 6},
        [("return_to_service", at(unit="bay1", evidence_entry=6))],
    ),
    (
        "rule_change",
        {"limit": "absorbent-hours", "value": "6", "machine": "bay1", "reason": "warm"},
        [
            (
                "rule",
                at(limit="absorbent-hours", machine="bay1", value=Decimal(6), reason="warm"),
            )
        ],
    ),
    (
        "correction",
        {"corrects": 5, "withdrawn": True, "reason": "slip"},
        [("correction", at(corrects=5, withdrawn=True, reason="slip"))],
    ),
    ("correction", {"corrects": 7, "withdrawn": True, "reason": "itself"}, []),
    (
        "restore",
        {"from_entries": 3, "from_head": "0" * 64, "reason": "disk died"},
        [("restore", at(from_entries=3, from_head="0" * 64, reason="disk died"))],
    ),
    (
        "note",
        {"unit": "bay1", "text": "late delivery"},
        [("note", at(unit="bay1", text="late delivery"))],
    ),
]


def test_every_kind_of_entry_is_written_down_here() -> None:
    assert {kind for kind, _, _ in MEANINGS} == KINDS.keys()


@pytest.mark.parametrize(("kind", "fields", "rows"), MEANINGS)
def test_an_entry_means_these_rows(kind: str, fields: dict[str, Any], rows: Rows) -> None:
    assert told(facts(entry(kind, fields))) == rows


MOVED = {"machine": "bay2", "vaporizer": "iso1", "ended_at": END}
NOTHING: Rows = [("mention", at(field=""))]
NAMED: list[tuple[str, dict[str, Any], Rows]] = [
    ("note", {"text": "the clinic"}, NOTHING),
    ("note", {"unit": "bay1", "text": "x"}, [("mention", at(field="unit", name="bay1"))]),
    (
        "case_begin",
        {"machine": "bay1", "vaporizer": "iso1"},
        [
            ("mention", at(field="machine", name="bay1", begins=True)),
            ("mention", at(field="vaporizer", name="iso1", begins=True)),
        ],
    ),
    ("case_end", {"case_entry": 5}, [("mention", at(field="case_entry", refers=5))]),
    ("correction", {"corrects": 5, "withdrawn": True, "reason": "slip"}, NOTHING),
    (
        "correction",
        {"corrects": 5, "withdrawn": False, "happened_at": END, "body": MOVED, "reason": "slip"},
        [
            ("mention", at(field="machine", name="bay2", refers=5)),
            ("mention", at(field="vaporizer", name="iso1", refers=5)),
        ],
    ),
    (
        "correction",
        {"corrects": 9, "withdrawn": False, "happened_at": END, "body": MOVED, "reason": "early"},
        NOTHING,
    ),
]


@pytest.mark.parametrize(("kind", "fields", "rows"), NAMED)
def test_an_entry_names_these_units(kind: str, fields: dict[str, Any], rows: Rows) -> None:
    assert told(mentions(entry(kind, fields))) == rows
