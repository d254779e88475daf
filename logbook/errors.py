"""Everything that can go wrong, drawn once.

    LogbookError                 exit 1   anything below, and what fits nowhere else
    ├── InputError               exit 2   a value a person gave makes no sense; nothing was saved
    │   └── NotKnown             exit 2   it names something that is not there
    ├── LedgerError              exit 4   the file is not a whole, unchanged ledger
    │   └── NotALedger           exit 4   the file is something else
    ├── Interrupted              exit 1   stopped half-way; what was answered is kept
    ├── MaybeSaved               exit 1   the disk failed so late that both may be
    ├── NotSaved                 exit 5   locked, full or read-only: nothing was saved, try again
    └── NewerLedger              exit 6   the file was written by a newer program

Every message is one sentence that names the thing and the value, and says what would do. Where
a door of the house leads to what would do, the error names that act, and each door says it in its
own way: the shell with a command, a page with a link.
"""

from collections.abc import Iterable, Sequence
from enum import StrEnum
from typing import ClassVar, NamedTuple

EXIT_DONE = 0
EXIT_FAILED = 1
EXIT_USAGE = 2
EXIT_ATTENTION = 3
EXIT_UNVERIFIED = 4
EXIT_NOT_SAVED = 5
EXIT_NEWER = 6


class Act(StrEnum):
    """What a person may do next, where a door of the house leads to it."""

    ADD_PERSON = "add a person"
    END_CASE = "end the case"
    GO_ON = "go on with the check"
    LIST_CASES = "list the cases"
    REPORT_OVERFILLED = "report it as overfilled"
    RETURN_TO_SERVICE = "put it back in service"
    SEE_HISTORY = "see the history"
    SIGN = "sign"
    START_LEDGER = "start a ledger"
    TAKE_OUT = "take it out of service"
    VERIFY = "verify the ledger"


class Wrong(NamedTuple):
    """One field that does not fit: its name in the body, the value as given, what would do."""

    field: str
    given: str
    would_do: str


class LogbookError(Exception):
    """Any failure that the logbook can explain in one sentence.

    ``wrong`` and ``would_do`` make the sentence; ``act`` is the act that would do, about the unit,
    person or entry ``about``.
    """

    exit_code: ClassVar[int] = EXIT_FAILED
    lead: ClassVar[str] = "Not done, nothing saved"
    """What a person must know first: whether anything was saved."""

    def __init__(
        self, wrong: str, would_do: str = "", *, act: Act | None = None, about: str = ""
    ) -> None:
        super().__init__(f"{wrong}; {would_do}" if would_do else wrong)
        self.wrong = wrong
        self.would_do = would_do
        self.act = act
        self.about = about


class InputError(LogbookError):
    """A value that a person gave makes no sense; nothing was saved.

    ``fields`` tells every field of an entry that does not fit; the sentence tells the first.
    """

    exit_code = EXIT_USAGE

    def __init__(
        self, wrong: str, would_do: str = "", *, act: Act | None = None, about: str = "",
        fields: Sequence[Wrong] = (),
    ) -> None:  # fmt: skip
        super().__init__(wrong, would_do, act=act, about=about)
        self.fields = tuple(fields)


class NotKnown(InputError):
    """A value names something that is not there: ``name``, as an error sentence shows it.

    ``known`` are the names that would do, in the order in which they are told; None where there
    are too many to tell. ``wrong`` is the sentence where "there is no ``noun``" does not fit.
    """

    def __init__(
        self, noun: str, name: str, known: Iterable[str] | None = None, *, wrong: str = "",
        act: Act | None = None,
    ) -> None:  # fmt: skip
        self.noun = noun
        self.name = name
        self.known = None if known is None else tuple(known)
        some = "" if self.known is None else f"known are {', '.join(self.known) or 'none yet'}"
        super().__init__(wrong or f"there is no {noun} {name}", some, act=act, about=name)


class LedgerError(LogbookError):
    """The file is not a whole, unchanged ledger."""

    exit_code = EXIT_UNVERIFIED


class NotALedger(LedgerError):
    """The file is something other than a ledger of this program."""


class Interrupted(LogbookError):
    """A check was stopped before its end; what was answered so far is kept."""

    lead = "The check is not finished"


class MaybeSaved(LogbookError):
    """The change was written, but the disk did not confirm its very last step."""

    lead = "It is not known whether this was saved"


class NotSaved(LogbookError):
    """The entry could not be written now; nothing was saved and a retry may work."""

    exit_code = EXIT_NOT_SAVED


class NewerLedger(LogbookError):
    """The file was written by a newer program than this one."""

    exit_code = EXIT_NEWER
