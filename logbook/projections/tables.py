"""The projected tables: facts read out of the entries, dropped and replayed at will.

Every row carries ``entry``, the number of the entry that it comes from, so that a correction
takes back exactly the rows of one entry. Columns ending in ``_s`` hold seconds since 1970.
"""

from typing import Any

from sqlalchemy import Column, Index, MetaData, PrimaryKeyConstraint, Table, text

from logbook.ledger.columns import Day, Exact, Flag, Label, Several, Whole

projected = MetaData()


def _table(name: str, *parts: Any, key: tuple[str, ...] = ("entry",)) -> Table:
    return Table(
        name,
        projected,
        Column("entry", Whole, nullable=False),
        *parts,
        PrimaryKeyConstraint(*key, name=f"{name}_pk"),
        sqlite_strict=True,
    )


def _where(condition: str) -> dict[str, Any]:
    """An index of those rows alone that meet a condition.

    To name another database here would load its whole dialect with every command.
    """
    return {"sqlite_where": text(condition)}


def _must(name: str, kind: Any = Label) -> Column[Any]:
    return Column(name, kind, nullable=False)


def _may(name: str, kind: Any = Label) -> Column[Any]:
    return Column(name, kind, nullable=True)


mention = _table(
    "mention",
    _must("field"),
    _must("at_s", Whole),
    _may("name"),
    _may("refers", Whole),
    _may("begins", Whole),
    Index("mention_by_name", "name", "at_s", "entry"),
    Index("mention_moved", "name", "refers", **_where("name IS NOT NULL AND refers IS NOT NULL")),
    Index("mention_begun", "name", "begins", "entry", **_where("begins IS NOT NULL")),
    Index("mention_of_entry", "refers", "entry", **_where("name IS NULL")),
    key=("entry", "field"),
)
"""What each entry names, as it was written: a unit under the field that names it, or the case that
it ends; one row without a name where it names neither, so that no entry of a time is missed. The
new content of a correction names units, too, with the entry that it ``refers`` to. A correction
takes none of these rows back, because a history hides nothing. ``begins`` marks what another entry
can end."""

clinic = _table(
    "clinic",
    _must("at_s", Whole),
    _must("name"),
    _must("timezone"),
    _must("listing_day"),
    _may("country"),
    _may("date_order"),
    _may("altitude_m", Exact),
    _may("ambient_kpa", Exact),
    _may("since", Day),
)
"""The clinic as it was told; the last row counts, and the first one founded the ledger."""
staff = _table("staff", _must("initials"))
machine = _table(
    "machine",
    _must("at_s", Whole),
    _must("machine"),
    _must("event"),
    _may("serial"),
    _may("location"),
    _may("pipeline", Flag),
    _may("cylinders", Several),
    _may("oxygen_flush", Flag),
    _may("second_gas", Flag),
    _may("oxygen_alarm", Flag),
    _may("oxygen_monitor", Flag),
    _may("flowmeter_min_ml_min", Exact),
    _may("flowmeter_max_ml_min", Exact),
    _may("powered", Flag),
    _may("ventilator", Flag),
    _may("suction", Flag),
    _may("vaporizer_places", Whole),
    _may("interlock", Flag),
    _may("suction_bulb", Flag),
    _may("circuits", Several),
    _may("coaxial", Flag),
    _may("absorbent_kind"),
    _may("absorbent_g", Exact),
    _may("hours_label", Flag),
    _may("relief_valve", Flag),
    _may("relief_valve_cmh2o", Exact),
    _may("leak_test_first"),
    _may("compliance_ml_cmh2o", Exact),
    _may("scavenging"),
)
"""One row each time a machine is ``added``, ``changed`` or ``retired``."""
vaporizer = _table(
    "vaporizer",
    _must("at_s", Whole),
    _must("vaporizer"),
    _must("agent"),
    _may("serial"),
    _may("capacity_ml", Exact),
    _may("low_mark_ml", Exact),
    _may("design"),
)
fitting = _table("fitting", _must("at_s", Whole), _must("vaporizer"), _may("machine"))
"""Where a vaporizer stands from ``at_s`` on; no machine means that it was removed."""
case = _table(
    "case",
    _must("machine"),
    _must("began_s", Whole),
    _may("ended_s", Whole),
    _must("circuit"),
    _may("vaporizer"),
    _may("weight_g", Exact),
    _may("co2_nl_min", Whole),
    _may("species"),
    _may("reference"),
    _may("reference_digest"),
    _may("pop_off_open", Flag),
    _must("by"),
    Index("case_by_machine", "machine", "began_s", "ended_s", "circuit", "vaporizer", "co2_nl_min"),
    Index("case_by_circuit", "machine", "circuit", "began_s", "ended_s", "vaporizer", "co2_nl_min"),
    Index("case_by_vaporizer", "vaporizer", "began_s", "ended_s"),
    Index("case_pop_off", "machine", "began_s", **_where("pop_off_open IS NOT NULL")),
    Index("case_live", "machine", "entry", **_where("ended_s IS NULL")),
)
"""A case; one that was begun live has no end of its own (see ``case_end``). ``co2_nl_min`` is what
a patient of its weight breathes out; null without a weight."""
case_end = _table(
    "case_end",
    _must("case_entry", Whole),
    _must("ended_s", Whole),
    Index("case_end_by_case", "case_entry"),
)
segment = _table(
    "segment",
    _must("n", Whole),
    _may("duration_s", Whole),
    _may("flow_ml_min", Exact),
    _may("dial_percent", Exact),
    _must("from_s", Whole),
    _may("to_s", Whole),
    _may("flow_nl_min", Whole),
    _may("vapour_pl_min", Whole),
    key=("entry", "n"),
)
"""A setting from ``from_s`` to ``to_s`` after the begin of its case, the last one to the end. What
flows is counted in whole nano- and picolitres, so that SQL adds it up without rounding."""
check = _table(
    "check",
    _must("at_s", Whole),
    _must("machine"),
    _must("checklist"),
    _must("version", Whole),
    _must("verdict"),
    _must("leak_passed", Whole),
    _may("pop_off_open", Whole),
    _may("exhausted"),
    _may("begun_s", Whole),
    _must("recorded_s", Whole),
    _may("hasty"),
    _may("again_of", Whole),
    _must("by"),
    Index("check_again", "again_of", **_where("again_of IS NOT NULL")),
    Index("check_by_machine", "machine", "checklist", "at_s"),
    Index("check_by_leak_test", "machine", "leak_passed", "at_s"),
    Index("check_pop_off", "machine", "at_s", **_where("pop_off_open IS NOT NULL")),
    Index("check_exhausted", "machine", "at_s", **_where("exhausted IS NOT NULL")),
)
"""A check and what of it stands for the machine: whether a leak test passed, the pop-off valve as
it was left (null where nobody looked), and the granules that mean exhausted absorbent. ``hasty`` is
an item whose hold is longer than the time that was there for it."""
check_answer = _table(
    "check_answer",
    _must("item"),
    _may("tested"),
    _must("state"),
    _may("value", Exact),
    _may("unit"),
    _may("held_s", Whole),
    _may("choice"),
    _may("judged_by"),
    _may("reason"),
    _must("absorbent_due", Flag),
    key=("entry", "item"),
)
checklist = _table("checklist", _must("checklist"), _must("version", Whole), _must("text"))
absorbent_change = _table(
    "absorbent_change",
    _must("at_s", Whole),
    _must("machine"),
    _may("mass_g", Exact),
    _may("absorbent_kind"),
    _may("lot"),
    _may("expiry", Day),
    _must("by"),
    Index("absorbent_change_by_machine", "machine", "at_s"),
)
agent_level = _table(
    "agent_level",
    _must("at_s", Whole),
    _must("vaporizer"),
    _must("event"),
    _may("added_ml", Exact),
    _may("level_ml", Exact),
    Index("agent_level_by_vaporizer", "vaporizer", "at_s"),
    Index("agent_level_read", "vaporizer", "at_s", **_where("level_ml IS NOT NULL")),
)
"""One row for each ``fill`` or ``reading``."""
oxygen = _table(
    "oxygen",
    _must("at_s", Whole),
    _must("machine"),
    _must("event"),
    _must("number", Whole),
    _may("size"),
    _may("cylinder_psi", Exact),
    _may("pipeline_psi", Exact),
    Index("oxygen_cylinder", "machine", "number", "at_s", **_where("cylinder_psi IS NOT NULL")),
    Index("oxygen_pipeline", "machine", "at_s", **_where("pipeline_psi IS NOT NULL")),
    Index("oxygen_by_event", "machine", "event", "number", "at_s"),
    key=("entry", "number"),
)
"""One row for each ``reading`` or ``change`` of a cylinder, which is the first if not told; a check
reads several."""
charcoal = _table(
    "charcoal",
    _must("at_s", Whole),
    _must("machine"),
    _must("event"),
    _may("weight_g", Exact),
    Index("charcoal_by_machine", "machine", "at_s"),
    Index("charcoal_by_event", "machine", "event", "at_s"),
)
"""One row for each ``change`` or ``weighing`` of a charcoal canister."""
service_plan = _table(
    "service_plan",
    _must("at_s", Whole),
    _must("unit"),
    _must("item"),
    _may("every"),
    _may("run_hours", Exact),
    _may("last", Day),
    _may("source"),
)
service = _table(
    "service",
    _must("at_s", Whole),
    _must("unit"),
    _must("item"),
    _must("outcome"),
    _may("done_by"),
    _may("certificate"),
    Index("service_by_unit", "unit", "item", "at_s"),
)
output = _table(
    "output",
    _must("n", Whole),
    _must("at_s", Whole),
    _must("vaporizer"),
    _must("dial_percent", Exact),
    _must("measured_percent", Exact),
    _must("expected_percent", Exact),
    _must("low_percent", Exact),
    _must("high_percent", Exact),
    Index("output_by_vaporizer", "vaporizer", "at_s"),
    key=("entry", "n"),
)
"""A vaporizer's output at a setting of its dial, what was expected, and what was allowed."""
fault = _table(
    "fault",
    _must("at_s", Whole),
    _must("unit"),
    _must("what"),
    _may("detail"),
    _must("stops", Flag),
    Index("fault_by_unit", "unit", "stops", "at_s"),
)
"""Faults that were reported, and checks in which an item failed that stops the machine."""
fault_close = _table(
    "fault_close",
    _must("at_s", Whole),
    _must("unit"),
    _must("fault_entry", Whole),
    _must("reason"),
    Index("fault_close_by_fault", "fault_entry", "at_s"),
)
return_to_service = _table(
    "return_to_service",
    _must("at_s", Whole),
    _must("unit"),
    _must("evidence_entry", Whole),
    _must("by"),
    Index("return_to_service_by_unit", "unit", "at_s"),
)
rule = _table(
    "rule",
    _must("at_s", Whole),
    _must("limit"),
    _may("machine"),
    _must("value", Exact),
    _must("reason"),
    _may("source"),
)
correction = _table(
    "correction",
    _must("at_s", Whole),
    _must("corrects", Whole),
    _must("withdrawn", Flag),
    _must("reason"),
    _must("by"),
    Index("correction_by_entry", "corrects", "entry"),
)
restore = _table(
    "restore",
    _must("at_s", Whole),
    _must("from_entries", Whole),
    _must("from_head"),
    _may("lost_entries", Whole),
    _may("lost_head"),
    _must("reason"),
)
note = _table("note", _must("at_s", Whole), _may("unit"), _must("text"))
