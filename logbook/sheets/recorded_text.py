"""How an entry was recorded, as the words that stand behind its line."""

from logbook.answers.recorded import Recorded

_DAY_S = 86_400


def recorded_marks(how: Recorded) -> list[str]:
    """Each mark; most lines have none."""
    marks = []
    if how.before_logbook:
        marks.append("before this logbook")
    elif how.late_s is not None:
        marks.append(f"recorded {roughly(how.late_s)} afterwards")
    if how.clock_back:
        marks.append("recorded with the clock before the last entry's")
    return marks


def marks_text(how: Recorded) -> str:
    """The marks as they stand in a sentence, behind what it tells; nothing where there are none."""
    return "".join(f", {mark}" for mark in recorded_marks(how))


def late_text(late_s: int | None) -> str:
    """What is said behind an entry in a sentence; nothing where it was recorded soon enough."""
    return "" if late_s is None else f", recorded {roughly(late_s)} afterwards"


def roughly(seconds: int) -> str:
    """How long that was, in whole hours up to two days, in days from there on."""
    days = round(seconds / _DAY_S)
    if days < 2:
        return f"{seconds // 3600} h"
    return f"{days} days"


def opened_by(vaporizer: str | None, *, away: bool) -> str:
    """By which vaporizer a machine was opened; nothing where it was none."""
    how = "was taken off" if away else "was fitted"
    return f"{vaporizer} {how}" if vaporizer else ""
