"""Each bound of each field, drawn from the models: on it a value stands, one step beyond it not."""

from collections.abc import Iterator
from typing import Any, Literal, get_args, get_origin

import pytest
from annotated_types import Ge, Gt, Le, MaxLen, MinLen
from pydantic import StringConstraints

from logbook.entries import model
from logbook.entries.base import Within
from logbook.entries.explaining import COUNTRY, CYLINDER, DEVICE, HASH, INITIALS, TAG
from logbook.errors import InputError
from logbook.vocabulary import SMALLEST
from tests.entries.fields import FIELDS, FULL, Field

PATTERNS = {
    TAG: (("b", "7", "a" * 24, "iso-1_b"), ("", "a" * 25, "-bay", "Bay1", "bay 1", "bay1\n", "ß")),
    INITIALS: (("K", "KO7", "A" * 6), ("", "A" * 7, "7K", "ko", "KÖ", "KO\n")),
    COUNTRY: (("US", "NO"), ("", "U", "USA", "us", "U2", "ÅL", "US\n")),
    CYLINDER: (("E", "M", "4.7L", "10L"), ("", "e", "Q", "EE", "4.7", "4.L", "E\n", "1000L")),
    DEVICE: (
        ("1", "wall tablet", "x" * 40, "A.b_c-d"),
        ("", " wall", "x" * 41, "wall\n", "-a", "ß"),
    ),
    HASH: (("0" * 64, "f" * 64), ("0" * 63, "0" * 65, "F" * 64, "g" * 64)),
}
"""What each pattern of a text takes, and what it refuses."""


def wrong(kind: str, body: dict[str, Any]) -> set[str]:
    """The fields that do not fit."""
    try:
        model(kind).of(**body)
    except InputError as error:
        return {one.field for one in error.fields}
    return set()


def takes(field: Field, value: Any) -> bool:
    """Whether the field takes a value, whatever else the body then lacks."""
    return ".".join(str(part) for part in field.loc) not in wrong(
        field.kind, field.body_with(value)
    )


def edges(field: Field) -> Iterator[tuple[Any, Any]]:
    """For every bound of a field a value on it, and one that lies a step beyond."""
    for one in field.constraints():
        if isinstance(one, Within):
            yield one.bounds.least, one.bounds.least - SMALLEST
            yield one.bounds.most, one.bounds.most + SMALLEST
        elif isinstance(one, Gt):
            yield one.gt + 1, one.gt
        elif isinstance(one, Ge):
            yield one.ge, one.ge - 1
        elif isinstance(one, Le):
            yield one.le, one.le + 1
        else:
            yield from lengths(one, field)


def lengths(one: Any, field: Field) -> Iterator[tuple[Any, Any]]:
    least = one.min_length if isinstance(one, MinLen | StringConstraints) else None
    most = one.max_length if isinstance(one, MaxLen | StringConstraints) else None
    given = (
        [FULL[field.kind][field.loc[0]][0]] if field.loc in (("answers",), ("outputs",)) else "x"
    )
    if least is not None:
        yield given * least, given * (least - 1)
    if most is not None:
        yield given * most, given * (most + 1)


BOUNDED = [(field, on, beyond) for field in FIELDS for on, beyond in edges(field)]


@pytest.mark.parametrize("kind", FULL)
def test_the_examples_leave_no_field_out_and_fit(kind: str) -> None:
    assert wrong(kind, FULL[kind]) == set()
    for field in FIELDS:
        if field.kind == kind:
            body: Any = FULL[kind]
            for part in field.loc:
                assert isinstance(body, list) or part in body, f"FULL of fields.py lacks {field}"
                body = body[part]


@pytest.mark.parametrize(
    ("field", "on", "beyond"),
    BOUNDED,
    ids=lambda one: str(one)[:40],
)
def test_on_a_bound_a_value_stands_and_beyond_it_none(field: Field, on: Any, beyond: Any) -> None:
    assert takes(field, on)
    assert not takes(field, beyond)


@pytest.mark.parametrize("field", FIELDS, ids=str)
def test_a_text_takes_what_its_pattern_says(field: Field) -> None:
    for one in field.constraints():
        if isinstance(one, StringConstraints) and one.pattern is not None:
            good, bad = PATTERNS[str(one.pattern)]
            assert [value for value in good if not takes(field, value)] == []
            assert [value for value in bad if takes(field, value)] == []


def words(annotation: Any) -> tuple[Any, ...]:
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    return tuple(word for inner in get_args(annotation) for word in words(inner))


@pytest.mark.parametrize("field", FIELDS, ids=str)
def test_a_word_of_a_closed_list_stands_and_no_other(field: Field) -> None:
    known = words(field.annotation)
    assert [word for word in known if not takes(field, word)] == []
    assert not known or not takes(field, f"{known[0]}s")


def test_bounds_and_words_were_found_in_the_models() -> None:
    assert len(FIELDS) > 100
    assert len(BOUNDED) > 100
    assert sum(bool(words(field.annotation)) for field in FIELDS) >= 10


@pytest.mark.parametrize("kind", FULL)
def test_a_body_reads_back_as_it_was_written(kind: str) -> None:
    body = model(kind).of(**FULL[kind])
    assert model(kind).model_validate_json(body.canonical()) == body
