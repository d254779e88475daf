"""What follows from a check, said right after it was saved."""

from logbook.checklists import POP_OFF_OPEN
from logbook.entries.check import Check, ItemAnswer
from logbook.units import format_decimal


def consequences(body: Check) -> list[str]:
    """One line for each item that failed, then what it means for the machine."""
    lines = [f"{one.item}: {_finding(one)}" for one in body.answers if one.state == "failed"]
    stopping = [one for one in body.answers if one.state == "failed" and one.stops]
    if stopping:
        lines.append(f"{body.machine} is out of service.")
    if any(one.absorbent_due for one in body.answers):
        lines.append("Change the absorbent now: colour can come back on standing.")
    last = body.answers[-1]
    if last.item == POP_OFF_OPEN and last.state != "passed":
        lines.append("The pop-off valve is not confirmed open: open it before anything else.")
    if body.verdict == "incomplete":
        lines.append(f"{body.machine} is not checked: items were not done.")
    return lines


def _finding(answer: ItemAnswer) -> str:
    rule = answer.judgement
    if answer.held_s is not None:
        seen = f"held {answer.held_s} s"
    elif answer.value is not None:
        seen = f"{format_decimal(answer.value)} {answer.unit}"
    else:
        seen = answer.choice or answer.reason or "failed"
    at = f" at {format_decimal(rule.pressure_cmh2o)} cmH2O" if rule and rule.pressure_cmh2o else ""
    bounds = []
    if rule and rule.low is not None:
        bounds.append(f"at least {format_decimal(rule.low)}")
    if rule and rule.high is not None:
        bounds.append(f"at most {format_decimal(rule.high)}")
    limit = f", limit {' and '.join(bounds)}" if bounds else ""
    return f"{seen}{at}{limit}: FAIL"
