"""Everything that can go wrong, drawn once.

    LogbookError                 exit 1   anything below, and what fits nowhere else
    ├── InputError               exit 2   a value a person gave makes no sense; nothing was saved
    │   ├── Faults               exit 2   several values at once
    │   └── NotKnown             exit 2   it names something that is not there
    ├── LedgerError              exit 4   the file is not a whole, unchanged ledger
    │   └── NotALedger           exit 4   the file is something else
    ├── Interrupted              exit 1   stopped half-way; what was answered is kept
    ├── MaybeSaved               exit 1   the disk failed so late that both may be
    ├── ZoneMissing              exit 1   this computer does not know the clinic's time zone
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

    ADD_MACHINE = "add a machine"
    ADD_PERSON = "add a person"
    ADD_VAPORIZER = "add a vaporizer"
    BACK_UP = "make a backup"
    CORRECT_END = "correct its end"
    END_CASE = "end the case"
    GO_ON = "go on with the check"
    HAND_OVER_ALL = "hand everything over again"
    LIST_CASES = "list the cases"
    LIST_FAULTS = "list the faults"
    MAP_COLUMNS = "tell which column is which"
    NAME_CENTRE = "name the centre"
    NAME_ISSUER = "name the issuer's certificate"
    NAME_KEY = "name the key"
    NAME_LEDGER = "name the ledger"
    READ_GAUGE = "read the gauge"
    REDO = "do it again alone"
    REPORT_OVERFILLED = "report it as overfilled"
    RETURN_ON = "put it back in service on this evidence"
    RETURN_TO_SERVICE = "put it back in service"
    SEE_ALL = "see all that is left out"
    SEE_HISTORY = "see the history"
    SEE_REASONS = "see all reasons"
    SEND_OPENLY = "send it where others can listen"
    SIGN = "sign"
    START_LEDGER = "start a ledger"
    TAKE_OUT = "take it out of service"
    TELL_AIR = "tell the pressure of the air"
    VERIFY = "verify the ledger"


class Trouble(StrEnum):
    """Why a ledger cannot be written or read now, for a door that says it in words of its own."""

    LOCKED = "another program holds it"
    FULL = "the disk is full"
    READ_ONLY = "it is read-only"
    CLOSED = "it cannot be opened"
    DISK = "the disk gave an error"
    REPLACED = "it was replaced meanwhile"


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


class Faults(InputError):
    """Several values that make no sense; ``faults`` has one sentence for each, all told at once."""

    def __init__(self, whose: str, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        told = [f"({n}) {fault}" for n, fault in enumerate(self.faults, start=1)]
        several = f"{whose} {len(told)} faults: {'; '.join(told)}"
        super().__init__(several if len(told) > 1 else self.faults[0])


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


class ZoneMissing(LogbookError):
    """This computer lacks a time zone that the ledger names: the ledger itself may be whole."""

    def __init__(self, name: str) -> None:
        super().__init__(
            f"this computer does not know the time zone {name}, in which the clinic keeps its time",
            "bring the system's time zones up to date, or Python's package tzdata, then try again",
        )


class NotSaved(LogbookError):
    """The entry could not be written now; nothing was saved and a retry may work."""

    exit_code = EXIT_NOT_SAVED

    def __init__(self, wrong: str, trouble: Trouble = Trouble.LOCKED) -> None:
        super().__init__(wrong)
        self.trouble = trouble


class NewerLedger(LogbookError):
    """The file was written by a newer program than this one."""

    exit_code = EXIT_NEWER
