"""The vocabulary: every kind of entry, found by its name.

Only the modules that a command needs are imported, because building a model takes longer than
writing an entry does.
"""

from importlib import import_module
from typing import TYPE_CHECKING, cast

from logbook.errors import LedgerError

if TYPE_CHECKING:
    from logbook.entries.base import Body

STORED = {"stored": True}
"""With this context a body is read that was taken in before."""

KINDS: dict[str, str] = {
    "clinic": "clinic.Clinic",
    "staff": "clinic.Staff",
    "machine": "machine.Machine",
    "machine_change": "machine.MachineChange",
    "machine_retirement": "machine.MachineRetirement",
    "vaporizer": "vaporizer.Vaporizer",
    "vaporizer_fitting": "vaporizer.VaporizerFitting",
    "vaporizer_removal": "vaporizer.VaporizerRemoval",
    "check": "check.Check",
    "checklist": "check.ChecklistLoad",
    "case": "case.Case",
    "case_begin": "case.CaseBegin",
    "case_end": "case.CaseEnd",
    "absorbent_change": "supplies.AbsorbentChange",
    "agent_fill": "supplies.AgentFill",
    "agent_level": "supplies.AgentLevel",
    "oxygen_reading": "supplies.OxygenReading",
    "cylinder_change": "supplies.CylinderChange",
    "charcoal_change": "supplies.CharcoalChange",
    "charcoal_weight": "supplies.CharcoalWeight",
    "service_plan": "service.ServicePlan",
    "service": "service.Service",
    "output_verification": "service.OutputVerification",
    "fault": "fault.Fault",
    "fault_close": "fault.FaultClose",
    "return_to_service": "fault.ReturnToService",
    "rule_change": "book.RuleChange",
    "correction": "book.Correction",
    "restore": "book.Restore",
    "note": "book.Note",
}
"""Every kind with the class that describes its body."""


def model(kind: str) -> "type[Body]":
    """The class of a kind.

    Raises:
        LedgerError: the kind is none that this program knows.
    """
    if kind not in KINDS:
        raise LedgerError(f"the ledger holds an entry of the unknown kind {kind!a}")
    module, _, name = KINDS[kind].partition(".")
    return cast("type[Body]", getattr(import_module(f"logbook.entries.{module}"), name))
