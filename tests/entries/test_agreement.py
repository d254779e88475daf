"""Fields of one body that must agree: on the bound they do, one step beyond they do not."""

from decimal import Decimal
from typing import Any

import pytest

from logbook.entries import model
from logbook.entries.service import Service
from logbook.errors import InputError
from logbook.vocabulary import SMALLEST
from tests.entries.fields import ANSWER, FULL, JUDGEMENT


def refused(kind: str, **fields: Any) -> str | None:
    """Why a body is refused that differs from the full one in these fields; None leaves one out."""
    body = {name: value for name, value in (FULL[kind] | fields).items() if value is not None}
    try:
        model(kind).of(**body)
    except InputError as error:
        return str(error)
    return None


def test_the_low_mark_of_a_vaporizer_lies_below_its_capacity() -> None:
    below = Decimal("250") - SMALLEST
    assert refused("vaporizer", capacity_ml="250", low_mark_ml=below) is None
    assert refused("vaporizer", capacity_ml="250", low_mark_ml="250") == (
        "the low mark must lie below the capacity of 250 mL"
    )
    assert refused("vaporizer", capacity_ml=None, low_mark_ml="250") is None


@pytest.mark.parametrize(
    ("dial", "tolerance", "on", "beyond"),
    [
        ("2", "15", ("1.7", "2.3"), ("1.699999", "2.300001")),
        ("0.3", "10", ("0.27", "0.33"), ("0.269999", "0.330001")),
        ("0", "15", ("0", "0"), ("0.000001", "0.1")),
    ],
)
def test_an_output_exactly_at_the_tolerance_has_passed(
    dial: str, tolerance: str, on: tuple[str, str], beyond: tuple[str, str]
) -> None:
    def passed(measured: str) -> str | None:
        output = {"dial_percent": dial, "measured_percent": measured}
        return refused("service", outputs=[output], tolerance_percent=tolerance)

    assert [passed(measured) for measured in on] == [None, None]
    sentence = "an output lies outside the tolerance, so the outcome is not passed"
    assert [passed(measured) for measured in beyond] == [sentence, sentence]


def test_one_output_outside_is_enough_and_only_a_pass_is_denied() -> None:
    outputs = [
        {"dial_percent": "1", "measured_percent": "1"},
        {"dial_percent": "2", "measured_percent": "3"},
    ]
    assert refused("service", outputs=outputs) is not None
    for outcome in ("failed", "not verified"):
        assert refused("service", outputs=outputs, outcome=outcome) is None
    body = Service.of(**FULL["service"] | {"outputs": outputs, "outcome": "failed"})
    assert [body.outside(output) for output in body.outputs] == [False, True]


@pytest.mark.parametrize(
    ("kind", "left_out", "sentence"),
    [
        ("service", ["tolerance_percent"], "measured outputs need the tolerance that judged them"),
        ("service_plan", ["every", "run_hours"], "a plan needs an interval such as P12M or a num"),
        ("agent_fill", ["added_ml", "level_ml"], "a fill needs the volume added or the level rea"),
        ("oxygen_reading", ["cylinder_psi", "pipeline_psi"], "a reading needs the cylinder or th"),
        ("correction", ["body"], "a correction either withdraws an entry or gives its new content"),
        ("correction", ["happened_at"], "a correction either withdraws an entry or gives its new"),
    ],
)
def test_of_what_belongs_together_one_is_not_enough(
    kind: str, left_out: list[str], sentence: str
) -> None:
    assert str(refused(kind, **dict.fromkeys(left_out))).startswith(sentence)
    for name in left_out[1:]:
        assert refused(kind, **{name: None}) is None or kind == "correction"


def test_what_never_happened_has_no_other_initials() -> None:
    withdrawn = {"withdrawn": True, "happened_at": None, "body": None}
    assert refused("correction", **withdrawn, by=None) is None
    assert (
        refused("correction", **withdrawn) == "an entry that is withdrawn needs no other initials"
    )


def check(**answer: Any) -> str | None:
    return refused("check", answers=[ANSWER | {"leak_ml_min": None} | answer])


@pytest.mark.parametrize(
    ("low", "high", "passes", "fails"),
    [
        ("100", "200", ("100", "200"), ("99.999999", "200.000001")),
        (None, "200", ("0", "200"), ("200.000001", "5000")),
        ("100", None, ("100", "9999"), ("99.999999", "0")),
    ],
)
def test_the_state_of_a_measured_item_follows_from_its_limit(
    low: str | None, high: str | None, passes: tuple[str, str], fails: tuple[str, str]
) -> None:
    judgement = JUDGEMENT | {"low": low, "high": high}
    for state, right, wrong in (("passed", passes, fails), ("failed", fails, passes)):
        other = "failed" if state == "passed" else "passed"
        for value in right:
            assert check(state=state, value=value, judgement=judgement) is None
        for value in wrong:
            assert check(state=state, value=value, judgement=judgement) == (
                f"item leak must be {other} by its limit"
            )


def test_a_timed_hold_is_judged_where_there_is_no_value() -> None:
    least = {"limit": "leak-hold", "low": "10", "high": None, "unit": "s"}
    hold = {"value": None, "unit": None, "judgement": least}
    assert check(**hold, held_s=10, state="passed") is None
    assert check(**hold, held_s=9, state="passed") == "item leak must be failed by its limit"
    assert check(**hold, held_s=9, state="failed") is None


def test_what_was_not_done_needs_its_reason_and_each_item_one_answer() -> None:
    sentence = "item leak is not done, so it needs a reason"
    bare = {"judgement": None, "value": None, "held_s": None}
    assert check(**bare, state="not done", reason=None) == sentence
    assert check(**bare, state="not done") is None
    assert refused("check", answers=[ANSWER, ANSWER]) == "item leak is answered twice"
    assert refused("check", answers=[ANSWER, ANSWER | {"item": "bag"}]) is None


@pytest.mark.parametrize(
    ("states", "verdict"),
    [
        (("passed", "not fitted"), "passed"),
        (("passed", "not done"), "incomplete"),
        (("not done", "failed"), "failed"),
        (("passed", "failed"), "failed"),
    ],
)
def test_a_check_has_passed_only_where_each_item_did(states: tuple[str, str], verdict: str) -> None:
    answers = [
        {"item": f"item{at}", "state": state, "reason": "why"} for at, state in enumerate(states)
    ]
    assert model("check").of(**FULL["check"] | {"answers": answers}).verdict == verdict
