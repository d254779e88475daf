"""How the shell says a refusal: the sentence, and the command by which a person goes on."""

from logbook.errors import Act, LogbookError

GO_ON = {
    Act.ADD_PERSON: "; add a person with: logbook staff add {about} NAME",
    Act.END_CASE: " with: logbook case end {about}",
    Act.GO_ON: "; go on with: logbook check {about}",
    Act.LIST_CASES: "; see: logbook case list",
    Act.REPORT_OVERFILLED: ": logbook fault report {about} overfilled",
    Act.RETURN_TO_SERVICE: ", and: logbook return-to-service {about} --evidence N",
    Act.SEE_HISTORY: "; see: logbook history MACHINE",
    Act.SIGN: ", or give --by",
    Act.START_LEDGER: "; start one with: logbook new NAME --timezone ZONE",
    Act.TAKE_OUT: "; --out-of-service would take it out.",
    Act.VERIFY: ", see: logbook verify",
}
"""What follows on the sentence, by the act that would do."""


def in_shell(error: LogbookError) -> str:
    """The sentence of an error, and the command that would do where there is one."""
    return f"{error}{how_to(error.act, error.about)}"


def how_to(act: Act | None, about: str) -> str:
    """How a sentence ends in the shell where an act would do; nothing where there is none."""
    return GO_ON[act].format(about=about) if act else ""
