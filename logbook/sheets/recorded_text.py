"""How an entry was recorded, as the words that stand behind its line."""

from logbook.answers.recorded import Recorded

_DAY_S = 86_400


def recorded_marks(how: Recorded) -> list[str]:
    """Each mark; most lines have none."""
    marks = []
    if how.late_s is not None:
        marks.append(f"recorded {_roughly(how.late_s)} later")
    if how.clock_back:
        marks.append("recorded with the clock before the last entry's")
    return marks


def _roughly(seconds: int) -> str:
    days = round(seconds / _DAY_S)
    if days < 2:
        return f"{seconds // 3600} h"
    return f"{days} days"
