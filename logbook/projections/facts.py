"""For each kind of entry, the one function that says which rows it means.

The functions are pure: rows depend on the entry alone, never on rows that stand already. That is
why a late entry gives the same tables as one that came in order.
"""

from collections.abc import Callable, Iterator, Sequence
from functools import cache, partial
from itertools import pairwise
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import Table

from logbook.arithmetic.absorbent import co2_output_nl_min
from logbook.arithmetic.agent import nanolitres, vapour_pl_min
from logbook.checklists.model import POP_OFF_OPEN
from logbook.entries.base import NAMES
from logbook.ledger.store import Entry
from logbook.projections import tables
from logbook.projections.lookup import OUTPUT_VERIFICATION

if TYPE_CHECKING:
    from logbook.entries.book import Correction
    from logbook.entries.case import Case, CaseBegin, CaseEnd, Segment
    from logbook.entries.check import Check
    from logbook.entries.fault import Fault
    from logbook.entries.service import OutputVerification, Service
    from logbook.entries.supplies import CylinderChange, OxygenReading

Row = tuple[Table, dict[str, Any]]


def _row(table: Table, entry: Entry, part: Any, **fixed: Any) -> Row:
    """A row whose columns are the fields of the same name, the header's, and those given."""
    kind: Any = type(part)
    told, header = _sources(table, kind)
    row: dict[str, Any] = dict.fromkeys(table.columns.keys())
    for name in told:
        row[name] = getattr(part, name)
    for name in header:
        row[name] = entry.seq if name == "entry" else getattr(entry, name)
    return table, row | fixed


@cache
def _sources(table: Table, kind: type) -> tuple[list[str], list[str]]:
    """The columns that a part tells, and those of the header; asking a model for what it lacks is
    slow, so each is asked once."""
    fields = getattr(kind, "model_fields", {})
    names = table.columns.keys()
    told = [name for name in names if name in fields or hasattr(kind, name)]
    return told, [name for name in ("entry", "at_s", "by") if name in names]


def _one_row(table: Table, **fixed: Any) -> Callable[[Entry, Any], list[Row]]:
    return lambda entry, body: [_row(table, entry, body, **fixed)]


def mentions(entry: Entry) -> list[Row]:
    """What an entry names, as it was written; its content today may name something else."""
    refers, named = None, entry.body.names()
    if entry.kind == "correction":
        refers, named = _named_anew(entry.seq, cast("Correction", entry.body))
    begins = 1 if entry.kind == "case_begin" else None
    mention = partial(_row, tables.mention, entry, None, begins=begins)
    rows = [mention(field=field, name=tag, refers=refers) for field, tag in named.items()]
    if entry.kind == "case_end":
        ended = cast("CaseEnd", entry.body).case_entry
        rows.append(mention(field="case_entry", name=None, refers=ended))
    return rows or [mention(field="", name=None, refers=None)]


def _named_anew(seq: int, body: "Correction") -> tuple[int, dict[str, str]]:
    """The entry that a correction gives new content, and what that content names."""
    content = body.body or {} if body.corrects < seq else {}
    return body.corrects, {field: content[field] for field in NAMES if field in content}


def _case(entry: Entry, body: "Case | CaseBegin") -> list[Row]:
    ended_at = getattr(body, "ended_at", None)
    ended_s = int(ended_at.timestamp()) if ended_at else None
    co2_nl_min = None if body.weight_g is None else co2_output_nl_min(body.weight_g)
    case = _row(
        tables.case, entry, body, began_s=entry.at_s, ended_s=ended_s, co2_nl_min=co2_nl_min
    )
    return [case, *_segments(entry, body.segments)]


def _case_end(entry: Entry, body: "CaseEnd") -> list[Row]:
    end = _row(tables.case_end, entry, body, ended_s=entry.at_s)
    return [end, *_segments(entry, body.segments)]


def _segments(entry: Entry, segments: "Sequence[Segment]") -> list[Row]:
    """Each setting from where the one before it ended; the last one is taken to have stayed."""
    rows, from_s = [], 0
    for n, part in enumerate(segments, start=1):
        to_s = from_s + (part.duration_s or 0)
        flows = _flows(part)
        last = n == len(segments)
        span = {"from_s": from_s, "to_s": None if last else to_s}
        rows.append(_row(tables.segment, entry, part, n=n, **span, **flows))
        from_s = to_s
    return rows


def _flows(part: "Segment") -> dict[str, int | None]:
    """What flows in a setting: fresh gas, and the vapour in it, where flow and dial are known."""
    flow, dial = part.flow_ml_min, part.dial_percent
    return {
        "flow_nl_min": None if flow is None else nanolitres(flow),
        "vapour_pl_min": None if flow is None or dial is None else vapour_pl_min(flow, dial),
    }


def _check(entry: Entry, body: "Check") -> list[Row]:
    """A failed item that stops the machine stands among the faults, too.

    What is carried over from the check that is done again was seen then, and counts there.
    """
    recorded_s = int(entry.recorded_at.timestamp())
    rows = [_row(tables.check, entry, body, recorded_s=recorded_s, **_seen(body))]
    for answer in body.done_now:
        judged = answer.judgement
        judged_by = judged.model_dump_json(exclude_none=True) if judged else None
        rows.append(_row(tables.check_answer, entry, answer, judged_by=judged_by))
    rows += _gauges(entry, body)
    stopping = [a.item for a in body.done_now if a.state == "failed" and a.stops]
    if stopping:
        fault = partial(_row, tables.fault, entry, None, unit=body.machine, what="check failed")
        rows.append(fault(detail=", ".join(stopping), stops=True))
    return rows


def _seen(body: "Check") -> dict[str, Any]:
    """What of a check stands for the machine until it is seen again."""
    pop_off = [answer for answer in body.done_now if answer.item == POP_OFF_OPEN]
    return {
        "leak_passed": int(any(a.tested == "leak" and a.state == "passed" for a in body.done_now)),
        "pop_off_open": int(pop_off[-1].state == "passed") if pop_off else None,
        "exhausted": next((a.choice or "" for a in body.done_now if a.absorbent_due), None),
        "begun_s": None if body.begun is None else int(body.begun.timestamp()),
        "hasty": _hasty(body),
    }


def _hasty(body: "Check") -> str | None:
    """The first item whose hold was typed, and is longer than the time since the answer before."""
    given = sorted(((a.at, a) for a in body.done_now if a.at is not None), key=lambda one: one[0])
    for (before, _), (at, answer) in pairwise(given):
        lasted_s = (at - before).total_seconds()
        if not answer.timed and answer.held_s is not None and answer.held_s > lasted_s:
            return answer.item
    return None


def _correction(entry: Entry, body: "Correction") -> list[Row]:
    """Nothing corrects itself or what comes after it."""
    return [_row(tables.correction, entry, body)] if body.corrects < entry.seq else []


def _fault(entry: Entry, body: "Fault") -> list[Row]:
    """What can change a vaporizer's output unseen stops it, whatever the entry says."""
    from logbook.entries.fault import STOPPING

    return [_row(tables.fault, entry, body, stops=body.stops or body.what in STOPPING)]


def _gauges(entry: Entry, body: "Check") -> list[Row]:
    """What a check measures is a reading like any other: a row for each cylinder, and the pipeline
    beside the first one."""
    read = [answer for answer in body.done_now if answer.reading]
    seen = {answer.reading: answer.value for answer in read}
    cylinders = {one.number or 1: one.value for one in read if one.reading == "cylinder"}
    pipeline = seen.get("pipeline")
    if pipeline is not None:
        cylinders.setdefault(1, None)
    rows = [
        _row(
            tables.oxygen, entry, body, event="reading", size=None, number=number,
            cylinder_psi=psi, pipeline_psi=pipeline if number == 1 else None,
        )
        for number, psi in cylinders.items()
    ]  # fmt: skip
    if "charcoal" in seen:
        weight_g = seen["charcoal"]
        rows.append(_row(tables.charcoal, entry, body, event="weighing", weight_g=weight_g))
    return rows


def _oxygen(entry: Entry, body: "OxygenReading | CylinderChange", *, event: str) -> list[Row]:
    told = {"size": getattr(body, "told_size", None), "number": body.number or 1}
    return [_row(tables.oxygen, entry, body, event=event, **told)]


def _service(entry: Entry, body: "Service") -> list[Row]:
    """A unit that failed its service stands among the faults, too: its dose may be wrong."""
    rows = [_row(tables.service, entry, body), *_outputs(entry, body.unit, body)]
    if body.outcome == "failed":
        rows.append(_row(tables.fault, entry, body, what="service failed", stops=True))
    return rows


def _output_verification(entry: Entry, body: "OutputVerification") -> list[Row]:
    """It is a service, too: that is what a plan asks for and what brings a vaporizer back."""
    unit, what = body.vaporizer, f"{OUTPUT_VERIFICATION} failed"
    rows = [_row(tables.service, entry, body, unit=unit, item=OUTPUT_VERIFICATION)]
    if body.outcome == "failed":
        rows.append(_row(tables.fault, entry, body, unit=unit, what=what, stops=True))
    return [*rows, *_outputs(entry, unit, body)]


def _outputs(entry: Entry, vaporizer: str, body: "Service | OutputVerification") -> Iterator[Row]:
    for n, one in enumerate(body.outputs, start=1):
        allowed, expected = body.allowed(one), body.expected(one)
        yield _row(
            tables.output, entry, one, n=n, vaporizer=vaporizer, expected_percent=expected,
            low_percent=allowed.low, high_percent=allowed.high,
        )  # fmt: skip


FACTS: dict[str, Callable[[Entry, Any], list[Row]]] = {
    "clinic": _one_row(tables.clinic),
    "staff": _one_row(tables.staff),
    "machine": _one_row(tables.machine, event="added"),
    "machine_change": _one_row(tables.machine, event="changed"),
    "machine_retirement": _one_row(tables.machine, event="retired"),
    "vaporizer": _one_row(tables.vaporizer),
    "vaporizer_fitting": _one_row(tables.fitting),
    "vaporizer_removal": _one_row(tables.fitting),
    "check": _check,
    "checklist": _one_row(tables.checklist),
    "case": _case,
    "case_begin": _case,
    "case_end": _case_end,
    "absorbent_change": _one_row(tables.absorbent_change),
    "agent_fill": _one_row(tables.agent_level, event="fill"),
    "agent_level": _one_row(tables.agent_level, event="reading"),
    "oxygen_reading": partial(_oxygen, event="reading"),
    "cylinder_change": partial(_oxygen, event="change"),
    "charcoal_change": _one_row(tables.charcoal, event="change"),
    "charcoal_weight": _one_row(tables.charcoal, event="weighing"),
    "service_plan": _one_row(tables.service_plan),
    "service": _service,
    "output_verification": _output_verification,
    "fault": _fault,
    "fault_close": _one_row(tables.fault_close),
    "return_to_service": _one_row(tables.return_to_service),
    "rule_change": _one_row(tables.rule),
    "correction": _correction,
    "restore": _one_row(tables.restore),
    "note": _one_row(tables.note),
}
"""The function of every kind."""


def facts(entry: Entry) -> list[Row]:
    """The rows that one entry means."""
    return FACTS[entry.kind](entry, entry.body)
