"""Each closed list stands once: what entries take, what commands offer, what the sums know."""

from collections.abc import Callable

import pytest

from logbook import vocabulary
from logbook.arithmetic import constants
from logbook.arithmetic.circuit import Circuit
from logbook.arithmetic.setup import SHORT_NAMES
from logbook.entries import KINDS, model
from logbook.entries.base import NAMES, Tag
from logbook.vocabulary import CIRCUITS, Bounds
from tests.cli.commandtree import leaves
from tests.conftest import Ran

BOUNDS = {name: one for name, one in vars(vocabulary).items() if isinstance(one, Bounds)}


@pytest.mark.parametrize(
    ("command", "option", "words"),
    [
        ("vaporizer add", "agent", vocabulary.AGENTS),
        ("setup", "agent", vocabulary.AGENTS),
        ("agent use", "name", vocabulary.AGENTS),
        ("case log", "circuit", tuple(CIRCUITS)),
        ("setup", "circuit", vocabulary.CIRCUITS_TO_CHOOSE),
        ("oxygen change", "size", vocabulary.CYLINDER_SIZES),
        ("oxygen left", "size", vocabulary.CYLINDER_SIZES),
        ("machine add", "scavenging", vocabulary.SCAVENGING),
        ("new", "listing_day", vocabulary.WEEKDAYS),
        ("service done", "outcome", vocabulary.OUTCOMES),
        ("fault report", "what", vocabulary.FAULTS),
        ("setup", "species", vocabulary.SPECIES),
        ("ready", "species", vocabulary.SPECIES),
    ],
)
def test_a_command_offers_the_words_of_the_list(
    command: str, option: str, words: tuple[str, ...]
) -> None:
    found = next(one for one in leaves()[command].params if one.name == option)
    assert tuple(found.type.choices) == words  # type: ignore[attr-defined]


def test_the_sums_know_every_word_of_the_lists() -> None:
    assert tuple(constants.AGENTS) == vocabulary.AGENTS
    assert tuple(constants.PLANNING_DIAL_PERCENT) == vocabulary.AGENTS
    assert tuple(constants.CYLINDER_L_PER_PSI) == vocabulary.CYLINDER_SIZES
    assert {*constants.SPECIES_KG, "other"} == set(vocabulary.SPECIES)
    assert {CIRCUITS[word] for word in vocabulary.CIRCUITS_TO_CHOOSE} == set(Circuit)
    assert {CIRCUITS[word]: word for word in vocabulary.CIRCUITS_TO_CHOOSE} == SHORT_NAMES


def test_every_size_that_can_be_reckoned_with_can_be_recorded(bay1: Callable[..., Ran]) -> None:
    for size in vocabulary.CYLINDER_SIZES:
        done = bay1("oxygen", "change", "bay1", "--size", size)
        assert (done.code, done.err) == (0, ""), size


@pytest.mark.parametrize("name", BOUNDS)
def test_bounds_lie_in_order_and_tell_what_they_lie_above(name: str) -> None:
    one = BOUNDS[name]
    assert 0 <= one.least < one.most
    assert one.above


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_that_holds_a_tag_is_one_by_which_a_body_names_a_thing(kind: str) -> None:
    fields = model(kind).__annotations__ | getattr(model(kind).__base__, "__annotations__", {})
    tags = {name for name, told in fields.items() if told in (Tag, Tag | None)}
    assert tags == set(model(kind).model_fields) & set(NAMES)


def test_a_body_names_what_it_is_about() -> None:
    fitting = model("vaporizer_fitting").of(vaporizer="iso1", machine="bay1")
    assert fitting.names() == {"vaporizer": "iso1", "machine": "bay1"}
    assert model("fault").of(unit="bay1", what="leak").names() == {"unit": "bay1"}
    assert model("note").of(text="x").names() == {}
