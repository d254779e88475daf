"""Answers that are kept while nothing changes, for a door at which many people ask the same."""

from collections.abc import Callable, Hashable, Iterator
from concurrent.futures import Future
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from threading import Lock
from typing import Any, TypeVar, cast

from sqlalchemy import Connection

from logbook.answers.unfinished import unfinished_checks
from logbook.ledger.store import head
from logbook.office.office import Heed, Office, Opened

T = TypeVar("T")
MOST_KEPT = 500
"""How many answers are kept; what was asked for longest ago goes first. Our own choice: a few for
each machine."""


@dataclass(frozen=True, slots=True)
class Remembered:
    """The answers of one ledger, each for a question, a state of the ledger and a minute.

    Ten people who ask at once wait for one sum, and not for ten. Nobody waits with the ledger open,
    and nobody holds what others need while it is opened: a ledger that another program holds would
    otherwise keep them one behind the other.
    """

    office: Office
    heed: Heed
    _kept: dict[Hashable, tuple[Hashable, Future[Any]]] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def ask(self, question: Hashable, answer: Callable[[Opened], T]) -> T:
        """The answer to a question, which its name tells with all that it depends on."""

        def read(opened: Opened) -> Callable[[], T]:
            told = answer(opened)
            return lambda: told

        return self.ask_in_two(question, read)

    def ask_in_two(self, question: Hashable, read: Callable[[Opened], Callable[[], T]]) -> T:
        """The same where an answer takes long once all is read for it: what ``read`` hands back
        makes it when the ledger is closed, so that nobody who saves waits for it."""
        with ExitStack() as telling:
            with self.office.reading(self.heed) as opened:
                state = (_state(opened.connection), int(opened.now.timestamp()) // 60)
                coming, mine = self._coming(question, state)
                if mine:
                    telling.enter_context(self._failing(question, coming))
                    make = read(opened)
            if mine:
                coming.set_result(make())
        return cast(T, coming.result())

    def _coming(self, question: Hashable, state: Hashable) -> tuple[Future[Any], bool]:
        """The answer that is there or on its way, and whether the caller has to make it."""
        with self._lock:
            kept = self._kept.pop(question, None)
            mine = kept is None or kept[0] != state
            coming: Future[Any] = Future() if kept is None or mine else kept[1]
            self._kept[question] = state, coming
            if len(self._kept) > MOST_KEPT:
                del self._kept[next(iter(self._kept))]
            return coming, mine

    @contextmanager
    def _failing(self, question: Hashable, coming: Future[Any]) -> Iterator[None]:
        """A failure is told to all who wait for an answer, and not kept."""
        try:
            yield
        except BaseException as error:
            with self._lock:
                if self._kept.get(question, (None, None))[1] is coming:
                    del self._kept[question]
            coming.set_exception(error)


def _state(connection: Connection) -> Hashable:
    """What no answer depends on beyond: the chain, and the checks that stand outside it."""
    return head(connection), repr(unfinished_checks(connection))
