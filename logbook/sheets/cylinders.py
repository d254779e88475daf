"""The oxygen cylinders of a machine, in words: each with what its sum rests on."""

from logbook.answers.facts import OnMachine
from logbook.answers.oxygen import OxygenLeft
from logbook.arithmetic.oxygen import gauge
from logbook.sheets.recorded_text import marks_text
from logbook.times import local_text
from logbook.units import format_decimal
from logbook.vocabulary import size_words


def cylinder_text(one: OnMachine) -> str:
    """A cylinder with its gauge, when that was read, and its size, as far as they are known; the
    first of a machine is mostly the only one and has no number."""
    which = "cylinder" if one.number == 1 else f"cylinder {one.number}"
    if one.gauge is not None:
        which += " at" if one.number > 1 else ""
        read = one.gauge
        which += f" {gauge(read.psi)} psi, {local_text(read.at)}{marks_text(read.recorded)}"
    return which + (f", {size_words(one.size)}" if one.size else "")


def oxygen_text(left: OxygenLeft) -> str:
    """All cylinders that count, and what cases took since they were read."""
    counted = [one for one in left.cylinders if one.gauge and one.size]
    used = f", less {format_decimal(round(left.used_l, 1))} L used since" if left.used_l else ""
    return "; ".join(map(cylinder_text, counted)) + used


def untold_text(left: OxygenLeft) -> str:
    """What must still come off, if anything, because nobody told the flow."""
    if not left.untold_cases:
        return ""
    cases = "1 case" if left.untold_cases == 1 else f"{left.untold_cases} cases"
    return f", less {cases} without flow or dial: read the gauge"
