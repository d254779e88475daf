"""A body that does not fit tells every field, as values, and the first one in a sentence."""

from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from logbook.entries import KINDS, model
from logbook.entries.base import Amount, Within
from logbook.entries.explaining import UNITS, WOULD_DO, _wrong
from logbook.errors import InputError, Wrong
from tests.entries.fields import FIELDS, Field

SAY_THEMSELVES = {"value", "counted", "low", "high"}
"""Numbers whose unit stands in another field of the body, or goes with the limit's name."""
ODD: tuple[Any, ...] = (
    None, True, -1, 10**30, 1.5, float("nan"), float("inf"), "", " ", "x" * 300_000, "\ud800",
    "2026-02-31", "2026-13-01T00:00:00Z", "25:00Z", "1e3", "٣", b"\xff", [], [None], {}, {"": ""},
    datetime(2026, 3, 2, 8, 0, 0, 1, tzinfo=UTC), datetime.combine(date(2026, 3, 2), time(8)),
    Decimal("1E+3"), object(),
)  # fmt: skip


def refusal(kind: str, **fields: Any) -> InputError:
    with pytest.raises(InputError) as caught:
        model(kind).of(**fields)
    return caught.value


def test_every_field_that_does_not_fit_is_told_with_the_value_as_given() -> None:
    error = refusal("case_begin", machine="Bay 1", weight_g="5", colour="blue", species="")
    tag = "must be 1 to 24 lower-case letters, digits, - or _, such as bay1"
    assert error.fields == (
        Wrong("machine", "Bay 1", tag),
        Wrong("weight_g", "5", "must lie between 10 g and 200 kg"),
        Wrong("species", "", "fill it in"),
        Wrong("colour", "blue", "there is no such field"),
    )  # fmt: skip
    assert str(error) == f"the machine is Bay 1, but {tag}"


def test_a_bound_without_a_unit_ends_with_its_number() -> None:
    error = refusal("service_plan", unit="bay1", item="service", run_hours="0")
    assert error.fields == (Wrong("run_hours", "0", "must lie between 0.000001 and 999999"),)


@pytest.mark.parametrize(
    ("kind", "fields", "sentence"),
    [
        ("note", {}, "the text is missing"),
        ("note", {"text": " "}, "the text is empty; fill it in"),
        ("note", {"text": "x" * 501}, f"the text is {'x' * 37}..., but must have at most 500 char"),
        ("note", {"text": 7}, "the text is 7, but must be text"),
        ("staff", {"initials": "ko"}, "the initials is ko, but must be 1 to 6 capital letters or "),
        (
            "restore",
            {"from_entries": 3, "from_head": "KO", "reason": "x"},
            "the from head is KO, but must be the 64 digits of a hash",
        ),
        (
            "restore",
            {"from_entries": -1, "from_head": "0" * 64, "reason": "x"},
            "the from entries is -1, but must be at least 0",
        ),
        ("case_end", {"case_entry": 0}, "the case entry is 0, but must be above 0"),
        ("case_end", {"case_entry": "seven"}, "the case entry is seven, but must be a whole"),
        (
            "case_end",
            {"case_entry": 7, "segments": [{}, {"dial_percent": "25"}]},
            "the dial of segment 2 is 25 percent, but must lie between 0 and 20 %",
        ),
        (
            "case_end",
            {"case_entry": 7, "segments": [{"duration_s": 86_401}]},
            "the duration of segment 1 is 86401 s, but must be at most 86400 s",
        ),
        ("case_end", {"case_entry": 7, "segments": "none"}, "the segments is none, but must be"),
        ("case_end", {"case_entry": 7, "segments": ["x"]}, "the segment 1 is x, but must be an o"),
        (
            "fault",
            {"unit": "bay1", "what": "broken"},
            "the what is broken, but must be 'tipped', 'dropped', 'overfilled', 'leak', ",
        ),
        ("fault", {"unit": "bay1", "what": "leak", "stops": "?"}, "the stops is ?, but must be"),
        (
            "oxygen_reading",
            {"machine": "bay1", "cylinder_psi": "1e3"},
            "the cylinder is 1e3 psi, but must be a plain number such as 2.5",
        ),
        (
            "oxygen_reading",
            {"machine": "bay1", "cylinder_psi": 1.5},
            "the cylinder is 1.5 psi, but must be a plain number written as text",
        ),
        (
            "absorbent_change",
            {"machine": "bay1", "expiry": "2026-02-31"},
            "the expiry is 2026-02-31, but must be a day such as 2026-03-02",
        ),
        (
            "case",
            {"machine": "bay1", "ended_at": "2026-03-02 08:00"},
            "“ended at” is 2026-03-02 08:00, but must be an instant in whole seconds such as",
        ),
        (
            "service",
            {"unit": "bay1", "item": "service", "outcome": "passed", "done_by": " "},
            "“done by” is empty; fill it in",
        ),
        (
            "check",
            {"machine": "bay1", "checklist": "daily", "version": 1, "answers": []},
            "the answers is [], but must hold at least 1",
        ),
        (
            "correction",
            {"corrects": 1, "withdrawn": False, "reason": "x", "body": "x"},
            "the body is x, but must be an object of fields",
        ),
    ],
)  # fmt: skip
def test_the_sentence_names_the_field_the_value_and_what_would_do(
    kind: str, fields: dict[str, Any], sentence: str
) -> None:
    assert str(refusal(kind, **fields)).startswith(sentence)


def test_what_fields_say_against_each_other_is_told_without_the_whole_entry() -> None:
    error = refusal("agent_fill", vaporizer="iso1")
    assert str(error) == "a fill needs the volume added or the level reached"
    assert error.fields == (Wrong("", "", "a fill needs the volume added or the level reached"),)


def test_braces_in_what_a_person_wrote_are_only_letters() -> None:
    answer = {"item": "{0}{x}", "state": "not done"}
    error = refusal("check", machine="bay1", checklist="daily", version=1, answers=[answer])
    assert str(error) == "item {0}{x} is not done, so it needs a reason"


@pytest.mark.parametrize("field", FIELDS, ids=str)
def test_whatever_stands_in_a_field_is_told_in_words(field: Field) -> None:
    for value in ODD:
        try:
            model(field.kind).model_validate(field.body_with(value))
        except ValidationError as error:
            details = error.errors(include_url=False)
            assert [one["type"] for one in details if one["type"] not in WOULD_DO] == []
            assert all(_wrong(one).would_do for one in details)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(st.sampled_from(sorted(KINDS)), st.dictionaries(st.text() | st.just("cls"), JSON))
def test_any_object_is_a_body_or_refused_in_one_line(kind: str, fields: dict[str, Any]) -> None:
    sentence = ""
    try:
        model(kind).of(**fields)
    except InputError as error:
        sentence = str(error)
    assert sentence.isprintable()
    assert len(sentence) < 300


def test_a_field_of_an_unprintable_name_is_told_in_one_line() -> None:
    assert str(refusal("note", text="x", **{"a\nb" * 20: "y"})) == (
        "the a?ba?ba?ba?ba?ba?ba?ba?ba?ba?ba?ba?ba... is y, but there is no such field"
    )


@pytest.mark.parametrize("field", FIELDS, ids=str)
def test_a_number_tells_its_unit_by_the_end_of_its_name(field: Field) -> None:
    """A new unit belongs into the table of ``explaining``, or its refusals come without one."""
    number = any(isinstance(one, Within) for one in field.constraints()) or Amount in (
        field.annotation,
        *getattr(field.annotation, "__args__", ()),
    )
    name = str(field.loc[-1])
    assert not number or name in SAY_THEMSELVES or any(name.endswith(end) for end in UNITS)


@pytest.mark.parametrize("given_value", ["3.5", "0.000001", "-2", 7, Decimal("2.50")])
def test_a_number_is_kept_as_it_was_written(given_value: Any) -> None:
    adapter = TypeAdapter(Amount)
    read = adapter.validate_python(given_value)
    assert adapter.dump_python(read, mode="json") == str(given_value)
