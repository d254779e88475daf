"""What goes wrong, in the page's own words: what, why, and what would do here."""

from typing import NamedTuple

from flask import url_for

from logbook.errors import (
    Act,
    InputError,
    LedgerError,
    LogbookError,
    MaybeSaved,
    NewerLedger,
    NotSaved,
    Trouble,
)


class Told(NamedTuple):
    """A failure as a page tells it: its title, why, what would do, and the status of HTTP."""

    title: str
    why: str
    would_do: str
    status: int


FORMS: dict[Act, tuple[str, str]] = {
    Act.END_CASE: ("End case", "end"),
    Act.READ_GAUGE: ("Read the oxygen gauges", "oxygen"),
    Act.REPORT_OVERFILLED: ("Report a fault", "fault"),
    Act.RETURN_ON: ("Return to service", "back"),
    Act.RETURN_TO_SERVICE: ("Return to service", "back"),
    Act.TAKE_OUT: ("Report a fault", "fault"),
}
"""The words of a link, and the form of the unit to which it leads, by the act that would do."""
PAGES: dict[Act, tuple[str, str]] = {
    Act.LIST_CASES: ("Board", "board.show"),
    Act.LIST_FAULTS: ("Due", "due.show"),
    Act.SEE_HISTORY: ("Board", "board.show"),
}
"""The words of a link, and the page to which it leads, by the act that would do."""


def leads_on(act: Act | None, about: str) -> tuple[str, str]:
    """The words of a link and its address, where a page leads to what would do; else nothing."""
    if act in FORMS and about:
        words, form = FORMS[act]
        return words, url_for("board.find", tag=about, act=form)
    if act is Act.CORRECT_END and about:
        return "Correct it", url_for("correcting.ask", seq=about)
    if act in PAGES:
        words, page = PAGES[act]
        return words, url_for(page)
    return "", ""


_KEEPER = "Tell the person who looks after the computer that keeps the logbook."
_AGAIN = "Then send it again: it is saved once, however often it is sent."
TROUBLE = {
    Trouble.LOCKED: (
        "The logbook is in use",
        "Another program held it for too long.",
        f"Wait a moment. {_AGAIN}",
    ),
    Trouble.FULL: (
        "The disk is full",
        "The computer that keeps the logbook has no space left.",
        f"{_KEEPER} {_AGAIN}",
    ),
    Trouble.READ_ONLY: (
        "The logbook cannot be written",
        "Its file or folder is read-only.",
        f"{_KEEPER} {_AGAIN}",
    ),
    Trouble.CLOSED: (
        "The logbook cannot be opened",
        "Its file or folder does not let itself be opened.",
        f"{_KEEPER} {_AGAIN}",
    ),
    Trouble.DISK: (
        "The disk gave an error",
        "The computer that keeps the logbook could not write or read.",
        f"{_KEEPER} {_AGAIN}",
    ),
    Trouble.REPLACED: (
        "The logbook was replaced meanwhile",
        "Somebody brought back a copy of it.",
        f"Look at what it holds now. {_AGAIN}",
    ),
}
"""Why the ledger cannot be had now: a title, a sentence, and what would do."""


def told(error: LogbookError) -> Told:
    """The words for an error that no form can put right."""
    if isinstance(error, NotSaved):
        return Told(*TROUBLE[error.trouble], 503)
    if isinstance(error, MaybeSaved):
        return Told(
            "It is not known whether this was saved",
            "The disk gave an error at the very last step.",
            "Send it again: it is saved once, however often it is sent.",
            503,
        )
    if isinstance(error, NewerLedger):
        return Told(
            "The logbook is newer than this page",
            "A newer program wrote it.",
            "Install the newer program on the computer that keeps the logbook.",
            503,
        )
    if isinstance(error, LedgerError):
        return Told(
            "The logbook is damaged",
            "What is in its file is not what was written there.",
            f"{_KEEPER} The last copy must be brought back, and this file kept.",
            503,
        )
    if error.act is Act.START_LEDGER:
        return Told(
            "The logbook is gone",
            "No file is where it was kept.",
            f"{_KEEPER} {_AGAIN}",
            503,
        )
    return Told("Not done", refusal(error).sentence, "Go back and look at what is recorded.", 422)


class Refused(NamedTuple):
    """Why something was refused, as one sentence, and where a page leads on to what would do."""

    sentence: str
    link: str = ""
    words: str = ""


def refusal(error: LogbookError) -> Refused:
    """Why a value was refused."""
    wrong = error.wrong if isinstance(error, InputError) else str(error)
    would_do = f"; {error.would_do}" if error.would_do and "--" not in error.would_do else ""
    sentence = f"{wrong}{would_do}"
    words, link = leads_on(error.act, error.about)
    return Refused(f"{sentence[:1].upper()}{sentence[1:]}.", link, words)
