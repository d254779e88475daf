"""The board, as text: one short block for each machine, the most important line first."""

from zoneinfo import ZoneInfo

from logbook.answers.board import BoardLine
from logbook.answers.moment import Moment
from logbook.answers.service_state import CheckDone
from logbook.sheets.due_text import item_text
from logbook.sheets.layout import wrapped
from logbook.sheets.units import left_text
from logbook.times import local_text
from logbook.units import format_decimal


def board_text(lines: list[BoardLine], moment: Moment) -> str:
    """Every machine; the words say what is recorded, never that a machine is safe."""
    if not lines:
        return "No machine is recorded yet. Next: logbook machine add bay1"
    head = f"{moment.day:%A} {moment.day}"
    return "\n".join([head, *(_block(line, moment.zone) for line in lines)])


def _block(line: BoardLine, zone: ZoneInfo) -> str:
    place = f" ({line.location})" if line.location else ""
    rows = [f"{line.machine}{place}: {_state(line, zone)}"]
    rows += [
        f"OUT OF SERVICE: {one.unit} {one.what}, {local_text(one.at, zone)} (entry {one.entry})"
        for one in line.faults
    ]
    rows += [item_text(item) for item in line.pressing]
    rows += [
        f"absorbent {item.used} of {item.limit} h"
        for item in line.absorbent
        if item.measure == "h" and item not in line.pressing
    ]
    rows += [f"{one.vaporizer} {one.agent}: {left_text(one.left)}" for one in line.vaporizers]
    if line.cylinder_psi is not None and line.cylinder_read_at is not None:
        read = local_text(line.cylinder_read_at, zone)
        rows.append(f"oxygen {format_decimal(line.cylinder_psi)} psi, read {read}")
    return "\n".join([wrapped(rows[0]), *(wrapped(f"  {row}", "      ") for row in rows[1:])])


def _state(line: BoardLine, zone: ZoneInfo) -> str:
    if line.running_since is not None:
        since = local_text(line.running_since, zone)
        return f"{_checked(line.check, zone)}; a case runs since {since}"
    return _checked(line.check, zone)


def _checked(check: CheckDone | None, zone: ZoneInfo) -> str:
    if check is None:
        return "NOT CHECKED today"
    told = f"{local_text(check.at, zone)[11:16]} by {check.by}"
    if check.verdict == "passed":
        return f"check passed {told}"
    return f"CHECK {check.verdict.upper()} {told} (entry {check.entry})"
