"""How the shell says a refusal: the sentence, and the command by which a person goes on."""

from logbook.errors import Act, LogbookError

GO_ON = {
    Act.ADD_MACHINE: ". Next: logbook machine add bay1",
    Act.ADD_PERSON: "; add a person with: logbook staff add {about} NAME",
    Act.ADD_VAPORIZER: ". Next: logbook vaporizer add iso1 --agent isoflurane",
    Act.BACK_UP: "; name a file made by: logbook backup",
    Act.CORRECT_END: ": logbook correct {about} --ran 1h10 --because REASON",
    Act.END_CASE: " with: logbook case end {about} --at TIME, or --ran 1h10",
    Act.GO_ON: "; go on with: logbook check {about}",
    Act.HAND_OVER_ALL: "; once that is found out: logbook hand-over ADDRESS --everything",
    Act.LIST_CASES: "; see: logbook case list",
    Act.LIST_FAULTS: "; see: logbook fault list",
    Act.MAP_COLUMNS: "; tell which is which, like --map began=date+start",
    Act.NAME_CENTRE: "; give its public key once with --centre KEY",
    Act.NAME_ISSUER: ", and name its file with --trust",
    Act.NAME_KEY: "; name its file with --key",
    Act.NAME_LEDGER: "; name the ledger's file with --ledger",
    Act.READ_GAUGE: ": logbook oxygen read {about} --number NUMBER --cylinder PRESSURE",
    Act.REDO: "; once mended, again alone with --redo {about}",
    Act.REPORT_OVERFILLED: ": logbook fault report {about} overfilled",
    Act.RETURN_ON: ": logbook return-to-service {about}",
    Act.RETURN_TO_SERVICE: ", and: logbook return-to-service {about}",
    Act.SEE_ALL: "; --all shows every one.",
    Act.SEE_HISTORY: "; see: logbook history MACHINE",
    Act.SEE_REASONS: ": logbook ready MACHINE",
    Act.SEND_OPENLY: ", or add --plain",
    Act.SIGN: ", or give --by",
    Act.START_LEDGER: "; start one with: logbook new NAME --timezone ZONE",
    Act.TAKE_OUT: "; --out-of-service would take it out.",
    Act.TELL_AIR: "; tell it with: logbook clinic change --altitude 1600m --because REASON",
    Act.VERIFY: ", see: logbook verify",
}
"""What follows on the sentence, by the act that would do."""


def in_shell(error: LogbookError) -> str:
    """The sentence of an error, and the command that would do where there is one."""
    return f"{error}{how_to(error.act, error.about)}"


def how_to(act: Act | None, about: str) -> str:
    """How a sentence ends in the shell where an act would do; nothing where there is none."""
    return GO_ON[act].format(about=about) if act else ""
