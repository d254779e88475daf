"""One sentence for each kind of entry: what is told when it is saved, and in a history."""

import re
from collections.abc import Callable, Iterator
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, cast
from zoneinfo import ZoneInfo

from logbook.arithmetic.oxygen import gauge
from logbook.country import country_name
from logbook.ledger.store import Entry
from logbook.limits import LIMITS
from logbook.sheets.profile_text import profile_words
from logbook.times import duration_text, local_text
from logbook.units import format_decimal
from logbook.vocabulary import absorbent_words, size_words

if TYPE_CHECKING:
    from logbook.answers.cases import Setting
    from logbook.entries.book import Correction, Restore, RuleChange
    from logbook.entries.case import Case, CaseBegin, CaseEnd, Segment
    from logbook.entries.check import Check
    from logbook.entries.clinic import Clinic
    from logbook.entries.fault import Fault, ReturnToService
    from logbook.entries.machine import Machine, MachineChange
    from logbook.entries.service import OutputVerification, Service, ServicePlan
    from logbook.entries.supplies import (
        AbsorbentChange,
        AgentFill,
        CharcoalChange,
        CharcoalWeight,
        CylinderChange,
        OxygenReading,
    )
    from logbook.entries.vaporizer import Vaporizer

LONG_WALK_S = 1800
"""A check whose answers lie so far apart was interrupted; our own choice."""
YES_OR_NO = "yes=1 no=0"
"""The unit of a limit that is a switch, in the table of limits."""


def sentence(entry: Entry, zone: ZoneInfo) -> str:
    """What an entry says, when it happened and by whom; no full stop."""
    case = cast("Case", entry.body) if entry.kind == "case" else None
    return _joined(
        _ran(case, entry.happened_at, zone) if case else None,
        _TOLD[entry.kind](entry.body),
        local_text(entry.happened_at, zone) + (f" by {entry.by}" if entry.by else ""),
    )


def _joined(*parts: str | None) -> str:
    return ", ".join(part for part in parts if part)


def _amount(value: Decimal | None, unit: str, before: str = "") -> str | None:
    return None if value is None else f"{before}{rounded(value)} {unit}"


def rounded(value: Decimal) -> str:
    """A quantity to two digits behind the dot: 53 lb are stored to the last digit of a gram."""
    return format_decimal(round(value, 2))


def pressure(what: str, value_psi: Decimal | None) -> str | None:
    """A gauge's reading, no finer than a gauge: 124 bar are stored to a thousandth of a psi."""
    return None if value_psi is None else f"{what} {gauge(value_psi)} psi"


def weight(value_g: Decimal | None) -> str | None:
    """A patient's weight as a technician says it."""
    if value_g is None:
        return None
    return f"{rounded(value_g)} g" if value_g < 1000 else f"{kilos(value_g)} kg"


def kilos(value_g: Decimal) -> str:
    """Grams as kilograms."""
    return rounded(value_g / 1000)


def setting(part: "Segment | Setting") -> str:
    """A stretch of a case: how long, flow, dial."""
    time = duration_text(part.duration_s) if part.duration_s else None
    flow = None if part.flow_ml_min is None else f"{format_decimal(part.flow_ml_min / 1000)} L/min"
    dial = None if part.dial_percent is None else f"dial {format_decimal(part.dial_percent)} %"
    return " ".join(word for word in (time, flow, dial) if word)


def every(interval: str) -> str:
    """An interval in words: ``every 12 months``; a rule of RFC 5545 stays as it was written."""
    told = re.fullmatch(r"P([0-9]+)([DWMY])", interval)
    if told is None:
        return f"every {interval}"
    noun = {"D": "day", "W": "week", "M": "month", "Y": "year"}[told[2]]
    return f"every {noun}" if told[1] == "1" else f"every {told[1]} {noun}s"


def limit_value(value: Decimal, unit: str) -> str:
    """A limit's value as a person says it: ``8 h``, ``off``, or yes and no."""
    if unit == YES_OR_NO:
        return "yes" if value else "no"
    return f"{format_decimal(value)} {unit}" if value else "off"


def air(altitude_m: Decimal | None, ambient_kpa: Decimal | None) -> str | None:
    """The air around the machines, by its pressure or by how high they stand; None if not told."""
    if ambient_kpa is not None:
        return f"{rounded(ambient_kpa)} kPa"
    return _amount(altitude_m, "m above the sea")


def in_air(air_kpa: Decimal | None) -> str:
    """What a sum that depends on the air was made with."""
    return "as at the sea" if air_kpa is None else f"in air of {rounded(air_kpa)} kPa"


def _clinic(body: "Clinic") -> str:
    return _joined(
        body.name,
        country_name(body.country) if body.country else None,
        f"time zone {body.timezone}",
        f"dates begin {body.date_order}" if body.date_order else None,
        air(body.altitude_m, body.ambient_kpa),
        f"this logbook begins on {body.since}" if body.since else None,
        f"week's list on {body.listing_day.title()}s",
        body.reason,
    )


def _machine(body: "Machine | MachineChange") -> str:
    return _joined(
        f"machine {body.machine}" + (" changed" if body.kind == "machine_change" else " added"),
        f"serial {body.serial}" if body.serial else None,
        body.location,
        profile_words(body),
        getattr(body, "reason", None),
    )


def _vaporizer(body: "Vaporizer") -> str:
    return _joined(
        f"vaporizer {body.vaporizer} added",
        body.agent,
        f"serial {body.serial}" if body.serial else None,
        _amount(body.capacity_ml, "mL", "holds "),
        _amount(body.low_mark_ml, "mL", "low mark "),
        body.design,
    )


def _check(body: "Check") -> str:
    found = [
        f"{answer.item} {answer.state}" + (f" ({answer.reason})" if answer.reason else "")
        for answer in body.answers
        if answer.state in ("failed", "not done")
    ]
    looked_at = [answer for answer in body.answers if answer.state != "not fitted"]
    count = "1 item" if len(looked_at) == 1 else f"{len(looked_at)} items"
    verdict = body.verdict.upper() if body.verdict != "passed" else body.verdict
    head = f"{body.machine} {body.checklist} check {verdict}"
    if body.paper:
        return _joined(head, "on paper", body.answers[0].reason)
    if body.again_of is not None:
        items = " and ".join(answer.item for answer in body.done_now)
        count = f"{items} done again after entry {body.again_of}"
        return _joined(head, count, *found, _walked(body))
    return _joined(head, count if not found else None, *found, _walked(body))


def _walked(body: "Check") -> str:
    """Who answered a check that several walked, and how long one took that was interrupted: the
    time of the entry is that of its end."""
    people = dict.fromkeys(answer.by for answer in body.done_now if answer.by)
    given = [answer.at for answer in body.done_now if answer.at]
    lasted_s = int((max(given) - min(given)).total_seconds()) if given else 0
    by = f"answered by {' and '.join(people)}" if len(people) > 1 else None
    return _joined(by, f"over {duration_text(lasted_s)}" if lasted_s >= LONG_WALK_S else None)


def _ran(body: "Case", began_at: datetime, zone: ZoneInfo) -> str:
    """How long a case ran, which takes the time of its entry, too."""
    ran_s = int((body.ended_at - began_at).total_seconds())
    return f"{body.machine} case to {local_text(body.ended_at, zone)} ({duration_text(ran_s)})"


def _case(body: "Case | CaseBegin") -> str:
    pop_off = getattr(body, "pop_off_open", None)
    return _joined(
        f"{body.machine} case begun" if body.kind == "case_begin" else None,
        body.circuit if body.circuit != "unknown" else "circuit unknown",
        weight(body.weight_g),
        body.species,
        f"vaporizer {body.vaporizer}" if body.vaporizer else None,
        *(setting(part) for part in body.segments),
        body.reference or ("with a reference" if body.reference_digest else None),
        None if pop_off is None else f"pop-off valve {'open' if pop_off else 'SHUT'}",
    )


def _case_end(body: "CaseEnd") -> str:
    return _joined(f"case {body.case_entry} ended", *(setting(part) for part in body.segments))


def _absorbent(body: "AbsorbentChange") -> str:
    return _joined(
        f"{body.machine} absorbent changed",
        _amount(body.mass_g, "g"),
        absorbent_words(body.absorbent_kind) if body.absorbent_kind else None,
        f"lot {body.lot}" if body.lot else None,
        f"expires {body.expiry}" if body.expiry else None,
        f"old granules {body.old_granules}" if body.old_granules else None,
        body.reason,
    )


def _fill(body: "AgentFill") -> str:
    return _joined(
        f"{body.vaporizer} filled",
        _amount(body.added_ml, "mL added"),
        _amount(body.level_ml, "mL", "now "),
        f"lot {body.lot}" if body.lot else None,
        f"expires {body.expiry}" if body.expiry else None,
    )


def _oxygen(body: "OxygenReading | CylinderChange") -> str:
    changed, size = body.kind == "cylinder_change", getattr(body, "told_size", None)
    which = f"cylinder {body.number}" if body.number and body.number > 1 else "cylinder"
    return _joined(
        f"{body.machine} oxygen " + (f"{which} changed" if changed else "read"),
        size_words(size) if size else None,
        pressure(which, body.cylinder_psi),
        pressure("pipeline", getattr(body, "pipeline_psi", None)),
    )


def _charcoal(body: "CharcoalChange | CharcoalWeight") -> str:
    verb = "changed" if body.kind == "charcoal_change" else "weighed"
    return _joined(f"{body.machine} charcoal canister {verb}", _amount(body.weight_g, "g"))


def _plan(body: "ServicePlan") -> str:
    return _joined(
        f"{body.unit} {body.item} planned",
        every(body.every) if body.every else None,
        _amount(body.run_hours, "run hours", "every "),
        f"last done {body.last}" if body.last else "no last date known",
        body.source,
    )


def _service(body: "Service") -> str:
    return _joined(
        f"{body.unit} {body.item} {_outcome(body.outcome)}",
        f"done by {body.done_by}" if body.done_by else None,
        *_certificate(body),
        *_outputs(body),
    )


def _certificate(body: "Service | OutputVerification") -> list[str | None]:
    """Its number, and of the scanned file as many digits as a person compares."""
    scan = body.certificate_sha256
    return [
        f"certificate {body.certificate}" if body.certificate else None,
        f"scanned certificate with SHA-256 {scan[:16]}" if scan else None,
    ]


def _output_verification(body: "OutputVerification") -> str:
    warm, air = body.temperature_c, body.ambient_kpa
    return _joined(
        f"{body.vaporizer} output verification {_outcome(body.outcome)}",
        f"done by {body.done_by}" if body.done_by else None,
        *_certificate(body),
        *_outputs(body),
        f"in {body.carrier_gas}" if body.carrier_gas else None,
        _amount(warm, "°C"),
        _amount(air, "kPa of air"),
        f"analyser {body.analyser}" if body.analyser else None,
    )


def _outcome(outcome: str) -> str:
    return outcome.upper() if outcome == "failed" else outcome


def _outputs(body: "Service | OutputVerification") -> Iterator[str]:
    for one in body.outputs:
        told = f"dial {format_decimal(one.dial_percent)} % gave {rounded(one.measured_percent)} %"
        expected = body.expected(one)
        if expected != one.dial_percent:
            told += f" for {rounded(expected)} %"
        yield told + (" (outside tolerance)" if body.outside(one) else "")


def _fault(body: "Fault") -> str:
    return _joined(
        f"{body.unit} {body.what}", body.detail, "OUT OF SERVICE" if body.stops else None
    )


def _rule(body: "RuleChange") -> str:
    unit = LIMITS[body.limit].unit if body.limit in LIMITS else "(no limit of this program)"
    return _joined(
        f"limit {body.limit} set to {limit_value(body.value, unit)}",
        f"for {body.machine}" if body.machine else "for the clinic",
        body.reason,
        f"source: {body.source}" if body.source else None,
    )


def _correction(body: "Correction") -> str:
    if body.withdrawn:
        return _joined(f"entry {body.corrects} withdrawn", body.reason)
    return _joined(f"entry {body.corrects} replaced", body.reason)


def _return(body: "ReturnToService") -> str:
    head = f"{body.unit} back in service on entry {body.evidence_entry}"
    return _joined(head, body.remark)


def _restore(body: "Restore") -> str:
    lost = "what was lost is not known"
    if body.lost_entries is not None:
        lost = f"{body.lost_entries} entries lost"
    return f"brought back from a backup of {body.from_entries} entries, {lost}, {body.reason}"


_TOLD: dict[str, Callable[[Any], str]] = {
    "clinic": _clinic,
    "staff": lambda b: f"{b.initials} signs entries",
    "machine": _machine,
    "machine_change": _machine,
    "machine_retirement": lambda b: f"machine {b.machine} retired, {b.reason}",
    "vaporizer": _vaporizer,
    "vaporizer_fitting": lambda b: f"{b.vaporizer} fitted to {b.machine}",
    "vaporizer_removal": lambda b: _joined(f"{b.vaporizer} removed", b.reason),
    "check": _check,
    "checklist": lambda b: f"list {b.checklist} version {b.version} loaded",
    "case": _case,
    "case_begin": _case,
    "case_end": _case_end,
    "absorbent_change": _absorbent,
    "agent_fill": _fill,
    "agent_level": lambda b: f"{b.vaporizer} level {format_decimal(b.level_ml)} mL",
    "oxygen_reading": _oxygen,
    "cylinder_change": _oxygen,
    "charcoal_change": _charcoal,
    "charcoal_weight": _charcoal,
    "service_plan": _plan,
    "service": _service,
    "output_verification": _output_verification,
    "fault": _fault,
    "fault_close": lambda b: f"{b.unit} fault of entry {b.fault_entry} closed, {b.reason}",
    "return_to_service": _return,
    "rule_change": _rule,
    "correction": _correction,
    "restore": _restore,
    "note": lambda b: _joined(f"note on {b.unit}" if b.unit else "note", b.text),
}
