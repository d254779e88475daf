"""Reading the answers of a check from JSON."""

import json
from typing import IO, TYPE_CHECKING, Any

from logbook.errors import Faults, InputError
from logbook.units import shown

if TYPE_CHECKING:
    from collections.abc import Mapping

    from logbook.answers.checking import ToWalk
    from logbook.checklists import Answer, Item

MOST_BYTES = 1_000_000


def read_answers(
    source: IO[str], walk: "ToWalk", given: "Mapping[str, Answer]"
) -> "dict[str, Answer]":
    """The answers by item, which with those ``given`` before make a check.

    Raises:
        InputError: the file is no JSON object of answers.
        Faults: answers are none, or items have none; all are told, each with its item.
    """
    try:
        told = json.loads(
            source.read(MOST_BYTES), parse_float=str, parse_int=str, object_pairs_hook=_once
        )
    except (ValueError, RecursionError) as error:
        raise InputError(
            f"the answers are not JSON ({shown(str(error))}); write one object"
        ) from None
    if not isinstance(told, dict):
        raise InputError('the answers are not one object; write {"item": "passed", ...}')
    return _all_read(walk, told, given)


def _all_read(
    walk: "ToWalk", told: "Mapping[str, object]", given: "Mapping[str, Answer]"
) -> "dict[str, Answer]":
    """The answers; what is wrong with any of them is told at once, with all that is lacking."""
    from logbook.answers.checking import check_body
    from logbook.checklists import Answer

    # Any item may be left out with a reason, so that no fault is found in this one.
    unread = Answer(state="not done", reason="not read")
    items = {item.key: item for item in walk.checklist.items}
    answers: dict[str, Answer] = {}
    faults: list[str] = []
    for key, value in told.items():
        try:
            answers[key] = _answer(items[key], value) if key in items else unread
        except InputError as error:
            faults.append(str(error))
            answers[key] = unread
    try:
        check_body(walk, {**given, **answers})
    except Faults as more:
        faults += more.faults
    if faults:
        raise Faults("the answers have", faults)
    return answers


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object whose names stand once: of two answers to an item, neither may win in silence."""
    told = dict(pairs)
    if len(told) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise InputError(f"the answers name {shown(twice)} twice; keep one")
    return told


def _answer(item: "Item", told: object) -> "Answer":
    from logbook.checklists.answering import FIELDS, answer_in_fields, answer_in_words

    if isinstance(told, str):
        return answer_in_words(item, told)
    if isinstance(told, dict):
        return answer_in_fields(item, told)
    raise InputError(
        f"the item {item.key} is answered with {shown(str(told))}; "
        f"give a word, or an object of {', '.join(FIELDS)}"
    )
