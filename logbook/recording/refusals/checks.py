"""What is refused of a check."""

from typing import TYPE_CHECKING

from logbook.errors import InputError
from logbook.recording.refusals.claim import local_text

if TYPE_CHECKING:
    from logbook.entries.check import Check, ItemAnswer
    from logbook.recording.refusals.claim import Claim


def check(claim: "Claim[Check]") -> None:
    """A walk that ended before it began, or answers that stand in no such check."""
    body = claim.body
    if body.begun is not None and body.begun > claim.at:
        began, ended = (local_text(claim.connection, at) for at in (body.begun, claim.at))
        raise InputError(
            f"the check began at {began}, after its end {ended}",
            "give the time of its end",
        )
    if body.again_of is not None:
        _carried_over(claim, body.again_of)


def _carried_over(claim: "Claim[Check]", seq: int) -> None:
    """What is not done again stands word for word in the check that is named."""
    from logbook.answers.again import earlier_check
    from logbook.answers.rules import rulebook
    from logbook.answers.unfinished import LIMIT

    body = claim.body
    limits = rulebook(claim.connection, claim.at_s).for_machine(body.machine)
    before = earlier_check(claim.connection, seq, limits[LIMIT], claim.at).body
    same = (before.machine, before.checklist, before.version)
    if same != (body.machine, body.checklist, body.version):
        raise InputError(
            f"entry {seq} is the {before.checklist} check of {before.machine}",
            "name a check of the same machine by the same list",
        )
    stood = {answer.item: _plain(answer) for answer in before.answers}
    if stood.keys() != {answer.item for answer in body.answers}:
        raise InputError(f"entry {seq} answers other items", "answer the same")
    for answer in body.answers:
        if answer.carried and stood[answer.item] != _plain(answer):
            raise InputError(
                f"the item {answer.item} is not what entry {seq} says", "carry it over as it stands"
            )


def _plain(answer: "ItemAnswer") -> "ItemAnswer":
    return answer.model_copy(update={"carried": None})
