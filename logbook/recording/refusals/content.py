"""The refusals of every kind: what its body says, whether in an entry or in a correction."""

from collections.abc import Callable
from typing import Any

from logbook.recording.refusals import cases, checks, equipment, people, rules, service
from logbook.recording.refusals.claim import Claim

REFUSALS: dict[str, Callable[[Claim[Any]], None]] = {
    "machine": equipment.machine,
    "machine_retirement": equipment.retirement,
    "vaporizer": equipment.vaporizer,
    "vaporizer_removal": equipment.removal,
    "clinic": people.clinic,
    "staff": people.staff,
    "check": checks.check,
    "case": cases.case,
    "case_begin": cases.case_begin,
    "case_end": cases.case_end,
    "oxygen_reading": equipment.cylinder,
    "cylinder_change": equipment.cylinder,
    "service_plan": service.plan,
    "service": service.done,
    "fault_close": service.fault_close,
    "return_to_service": service.return_to_service,
    "rule_change": rules.rule,
    "checklist": rules.checklist,
}
"""What is refused of a kind beyond names that are not there; of other kinds nothing is."""


def refuse_content(claim: Claim[Any]) -> None:
    """Refuse what cannot have happened, as far as the body alone tells.

    Raises:
        InputError: it names the field, the value and what would do.
    """
    kind = claim.body.kind
    if kind not in equipment.BRINGS_ITS_UNIT:
        in_use = kind != "machine_retirement"
        equipment.refuse_names(claim.connection, claim.body.names(), claim.at_s, in_use=in_use)
    if kind in REFUSALS:
        REFUSALS[kind](claim)
