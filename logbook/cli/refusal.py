"""How the shell says a refusal: the sentence, and the command by which a person goes on."""

from logbook.errors import Act, LogbookError

GO_ON = {
    Act.ADD_PERSON: "; add a person with: logbook staff add {about} NAME",
    Act.END_CASE: " with: logbook case end {about}",
    Act.GO_ON: "; go on with: logbook check {about}",
    Act.LIST_CASES: "; see: logbook case list",
    Act.SEE_HISTORY: "; see: logbook history MACHINE",
    Act.SIGN: ", or give --by",
    Act.START_LEDGER: "; start one with: logbook new NAME --timezone ZONE",
    Act.VERIFY: ", see: logbook verify",
}
"""What follows on the sentence, by the act that would do."""


def in_shell(error: LogbookError) -> str:
    """The sentence of an error, and the command that would do where there is one."""
    tail = GO_ON[error.act].format(about=error.about) if error.act else ""
    return f"{error}{tail}"
