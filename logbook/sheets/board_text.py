"""The board and the verdict on one machine, as text: the most important first."""

from logbook.answers.board import BoardLine
from logbook.answers.moment import Moment
from logbook.answers.ready import Ready
from logbook.sheets.layout import wrapped
from logbook.sheets.units import NO_MACHINE, amount_left
from logbook.units import format_decimal

MARKS = {"stops": "NO", "unknown": "NO RECORD", "remark": "remark", "fine": "recorded"}
HEED = "This tells what was recorded. Look at the machine: pop-off valve open, valves move."


def board_text(lines: list[BoardLine], moment: Moment) -> str:
    """Every machine; three lines each, so that six fit one screen."""
    if not lines:
        return wrapped(NO_MACHINE)
    head = wrapped(f"{moment.day:%A} {moment.day}")
    tail = wrapped("All reasons of a machine: logbook ready MACHINE")
    return "\n".join([head, *(_block(line) for line in lines), tail])


def _block(line: BoardLine) -> str:
    place = f" ({line.location})" if line.location else ""
    rows = [wrapped(f"{line.machine}{place}: {line.verdict.upper()}")]
    open_reasons = [one for one in line.reasons if one.weight != "fine"]
    if open_reasons:
        more = f" (+{len(open_reasons) - 1} more)" if len(open_reasons) > 1 else ""
        rows.append(wrapped(f"  {open_reasons[0].sentence}{more}", "      "))
    rows.append(wrapped(f"  {_amounts(line)}", "      "))
    return "\n".join(rows)


def _amounts(line: BoardLine) -> str:
    parts = [
        f"check {line.check.verdict} by {line.check.by}" if line.check else "NOT CHECKED today"
    ]
    if line.absorbent_h is not None:
        parts.append(f"absorbent {line.absorbent_h} of {line.absorbent_limit_h} h")
    parts += [f"{one.vaporizer} {amount_left(one.left)}" for one in line.vaporizers]
    if line.cylinder is not None:
        parts.append(f"oxygen {format_decimal(line.cylinder.psi)} psi")
    return "; ".join(parts)


def ready_text(verdict: Ready) -> str:
    """The verdict, every reason worst first, and the caution that stands above all records."""
    rows = [f"{verdict.machine}: {verdict.verdict.upper()}"]
    rows += [f"  {MARKS[one.weight]}: {one.sentence}" for one in verdict.reasons]
    return "\n".join([*(wrapped(row, "      ") for row in rows), wrapped(HEED)])
