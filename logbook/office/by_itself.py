"""Handing over by itself while a page is served: never in the way of a save, and never given up."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from logbook.errors import LogbookError
from logbook.ledger.store import head
from logbook.office.handing_over import hand_over, unheard
from logbook.office.line import Line
from logbook.office.office import Office
from logbook.proof.receipt import kept

EVERY_S = 15 * 60
"""How long after a hand-over the next is looked at, in seconds; our own choice."""
LONGEST_PAUSE_S = 4 * 3600
"""However often it failed, it is tried again after so many seconds; our own choice."""
HEARD_EVERY = timedelta(days=1)
"""Where nothing is new, the centre hears of the site nevertheless so often; our own choice."""


def pause_s(failures: int) -> int:
    """How long to wait after so many failures in a row, in seconds.

    >>> [pause_s(failures) // 60 for failures in range(7)]
    [15, 15, 30, 60, 120, 240, 240]
    """
    pause = EVERY_S
    for _ in range(1, failures):
        pause = min(2 * pause, LONGEST_PAUSE_S)
    return pause


@dataclass(slots=True)
class ByItself:
    """Hands a ledger over to a centre whose public key is ``centre``; ``tell`` gets a sentence
    where it fails, once for each reason."""

    office: Office
    line: Line
    centre: str
    tell: Callable[[str], None]
    _failures: int = 0
    _told: str = ""

    def __call__(self) -> float:
        """Hand over what is new; answers how many seconds to pause. It may break off: what is not
        acknowledged is sent again."""
        self._failures = 0 if self._succeeds() else self._failures + 1
        return pause_s(self._failures)

    def _succeeds(self) -> bool:
        try:
            if self._has_news():
                hand_over(self.office, self.line, self.centre)
        except (LogbookError, OSError) as error:
            lead = error.lead if isinstance(error, LogbookError) else LogbookError.lead
            why = f"{lead}: {error}. It is tried again by itself."
            if why != self._told:
                self.tell(why)
            self._told = why
            return False
        self._told = ""
        return True

    def _has_news(self) -> bool:
        """Whether anything was recorded since, or the centre has not heard for long."""
        last = kept(self.office.ledger)
        with self.office.reading(unheard) as opened:
            count, newest = head(opened.connection)
            now = opened.now
        if last is None or last.centre != self.centre:
            return True
        same = (last.receipt.entries, last.receipt.head) == (count, newest)
        return not same or now - last.receipt.at >= HEARD_EVERY
