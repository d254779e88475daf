"""What a person gave for an item, in one text or field by field, becomes the same answer."""

import pytest

from logbook.checklists import Answer, Item, builtin
from logbook.checklists.answering import answer_in_fields, answer_in_words, answer_with_reason
from logbook.errors import InputError

ITEMS = {item.key: item for name in ("daily", "before-case") for item in builtin(name).items}
LEAK, BULB = ITEMS["breathing-system-leak"], ITEMS["low-pressure-leak"]
COLOUR, TICK = ITEMS["absorbent-colour"], ITEMS["flowmeters"]


def number(unit: str) -> Item:
    """An item that takes a number in a unit."""
    return Item("look", "All", "Look", "number", "how", "why", "source", "read", True, unit=unit)


@pytest.mark.parametrize(
    ("item", "text", "answer"),
    [
        (TICK, "passed", Answer(state="passed")),
        (TICK, " Not Fitted ", Answer(state="not fitted")),
        (COLOUR, "over half changed", Answer(value="over half changed")),
        (COLOUR, "Fresh", Answer(value="fresh")),
        (COLOUR, "2", Answer(value="partly changed")),
        (COLOUR, "failed", Answer(state="failed")),
        (LEAK, "150", Answer(value="150", unit="mL/min")),
        (LEAK, "150 mL/min", Answer(value="150", unit="mL/min")),
        (LEAK, "0.15L/min", Answer(value="150", unit="mL/min")),
        (LEAK, "12 s", Answer(held_s=12, timed=False)),
        (LEAK, "12S", Answer(held_s=12, timed=False)),
        (LEAK, "150 at 30", Answer(value="150", unit="mL/min", pressure_cmh2o="30")),
        (LEAK, "0.15 L/min AT 3kPa", Answer(value="150", unit="mL/min", pressure_cmh2o="30.591")),
        (
            LEAK,
            "12s from 30 to 29 cmH2O",
            Answer(held_s=12, timed=False, pressure_cmh2o="30", end_pressure_cmh2o="29"),
        ),
        (BULB, "12", Answer(held_s=12, timed=False)),
        (BULB, "1min", Answer(held_s=60, timed=False)),
        (ITEMS["cylinder-pressure"], "100bar", Answer(value="1450.377", unit="psi")),
        (ITEMS["absorbent-hours"], "6.50h", Answer(value="6.5", unit="h")),
    ],
)
def test_one_text_says_an_answer(item: Item, text: str, answer: Answer) -> None:
    assert answer_in_words(item, text) == answer


def test_fields_say_the_same_with_a_reason() -> None:
    told = {"state": "failed", "value": "0.24 L/min", "reason": " hose split "}
    answer = Answer(state="failed", value="240", unit="mL/min", reason="hose split")
    assert answer_in_fields(LEAK, told) == answer
    assert answer_in_fields(BULB, {"held_s": "12 s"}) == Answer(held_s=12, timed=False)
    assert answer_in_fields(LEAK, {"held_s": "12 s"}) == Answer(held_s=12, timed=False)
    pressures = {"pressure": "30", "end_pressure": "29cmH2O"}
    assert answer_in_fields(LEAK, {"held_s": "12"} | pressures) == Answer(
        held_s=12, timed=False, pressure_cmh2o="30", end_pressure_cmh2o="29"
    )
    flow = Answer(value="150", unit="mL/min", pressure_cmh2o="30")
    assert answer_in_fields(LEAK, {"value": "150", "pressure": "30 cmH2O"}) == flow
    assert answer_in_fields(LEAK, {"value": "150 mL/min at 30"}) == flow
    assert answer_in_fields(COLOUR, {"value": "fresh"}) == Answer(value="fresh")
    assert answer_in_fields(TICK, {"state": "passed", "reason": "  "}) == Answer(state="passed")


@pytest.mark.parametrize(
    ("item", "text", "answer"),
    [
        (TICK, "not done: no time", Answer(state="not done", reason="no time")),
        (TICK, " Failed :  ", Answer(state="failed")),
        (TICK, "passed", Answer(state="passed")),
        (LEAK, "150 mL/min", Answer(value="150", unit="mL/min")),
        (BULB, "1:30", Answer(held_s=5400, timed=False)),
    ],
)
def test_one_text_says_a_state_with_its_reason(item: Item, text: str, answer: Answer) -> None:
    assert answer_with_reason(item, text) == answer


@pytest.mark.parametrize(
    ("unit", "least", "most", "beyond"),
    [
        ("psi", "0", "5000", "5000.1"),
        ("mL/min", "0", "20000", "20000.1"),
        ("g", "0.000001", "10000", "10000.1"),
        ("cmH2O", "0", "100", "100.1"),
        ("mL", "0", "1000", "1000.1"),
        ("h", "0", "1000", "1000.1"),
        ("%", "0", "1000", "1000.1"),
    ],
)
def test_a_number_is_taken_up_to_what_a_gauge_can_show_and_no_further(
    unit: str, least: str, most: str, beyond: str
) -> None:
    for text in (least, most):
        assert answer_in_words(number(unit), text).value == text
    more = f"look {beyond} {unit} is more than any gauge shows; check the number and its unit$"
    with pytest.raises(InputError, match=more):
        answer_in_words(number(unit), beyond)
    with pytest.raises(InputError, match=f"look -1 {unit} is less than any gauge shows"):
        answer_in_words(number(unit), "-1")


@pytest.mark.parametrize(
    ("item", "text", "sentence"),
    [
        (TICK, "fine", "item flowmeters cannot be fine; say one of: passed, failed, not done"),
        (TICK, "", "item flowmeters cannot be ; say one of"),
        (COLOUR, "purple", "purple is none of the choices; type a number from 1 to 4"),
        (COLOUR, "0", "0 is none of the choices"),
        (COLOUR, "5", "5 is none of the choices"),
        (LEAK, "1,800", "write 1800mL/min or 1.8mL/min"),
        (LEAK, "nan", "breathing-system-leak nan is not a flow"),
        (LEAK, "150 psi", "breathing-system-leak 150 psi is not a flow"),
        (BULB, "12345", "low-pressure-leak 12345 needs its unit"),
        (BULB, "long", "low-pressure-leak long is not a duration"),
        (number("mL"), "3 psi", "look 3 psi is not a volume"),
    ],
)
def test_a_text_that_says_nothing_about_its_item_is_refused_by_name(
    item: Item, text: str, sentence: str
) -> None:
    with pytest.raises(InputError, match=sentence):
        answer_in_words(item, text)


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ({"state": "fine"}, "cannot be fine; say one of: passed"),
        ({"verdict": "passed"}, "has no verdict; known are state, value, held_s, pressure, end_"),
        ({"value": "9", "pressure": "0"}, "a pressure read is above 0, and at most 100"),
        ({"value": "9", "pressure": "101"}, "a pressure read is above 0, and at most 100"),
        ({"value": "9", "pressure": "30psi"}, "cmH2O, kPa, mbar or mmHg"),
        ({"value": 150}, "has a value that is no text; write it as text"),
        ({"state": "failed", "reason": "a" * 501}, "has a reason of 501 characters; write at most"),
    ],
)
def test_fields_that_make_no_sense_are_refused_by_name(
    told: dict[str, object], sentence: str
) -> None:
    with pytest.raises(InputError, match=sentence):
        answer_in_fields(LEAK, told)
    assert answer_in_fields(TICK, {"state": "failed", "reason": "a" * 500}).reason == "a" * 500
