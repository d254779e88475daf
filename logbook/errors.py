"""Everything that can go wrong, drawn once.

    LogbookError                 exit 1   anything below, and what fits nowhere else
    ├── InputError               exit 2   a value a person gave makes no sense; nothing was saved
    ├── LedgerError              exit 4   the file is not a whole, unchanged ledger
    │   └── NotALedger           exit 4   the file is something else
    ├── MaybeSaved               exit 1   the disk failed so late that both may be
    ├── NotSaved                 exit 5   locked, full or read-only: nothing was saved, try again
    └── NewerLedger              exit 6   the file was written by a newer program

Every message is one sentence that names the thing and the value, and says what would do.
"""

from typing import ClassVar

EXIT_DONE = 0
EXIT_FAILED = 1
EXIT_USAGE = 2
EXIT_ATTENTION = 3
EXIT_UNVERIFIED = 4
EXIT_NOT_SAVED = 5
EXIT_NEWER = 6


class LogbookError(Exception):
    """Any failure that the logbook can explain in one sentence."""

    exit_code: ClassVar[int] = EXIT_FAILED
    lead: ClassVar[str] = "Not done, nothing saved"
    """What a person must know first: whether anything was saved."""


class InputError(LogbookError):
    """A value that a person gave makes no sense; nothing was saved."""

    exit_code = EXIT_USAGE


class LedgerError(LogbookError):
    """The file is not a whole, unchanged ledger."""

    exit_code = EXIT_UNVERIFIED


class NotALedger(LedgerError):
    """The file is something other than a ledger of this program."""


class MaybeSaved(LogbookError):
    """The change was written, but the disk did not confirm its very last step."""

    lead = "It is not known whether this was saved"


class NotSaved(LogbookError):
    """The entry could not be written now; nothing was saved and a retry may work."""

    exit_code = EXIT_NOT_SAVED


class NewerLedger(LogbookError):
    """The file was written by a newer program than this one."""

    exit_code = EXIT_NEWER
