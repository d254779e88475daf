"""Values: frozen dataclasses that are built with the first of their kind."""

import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import FrozenInstanceError, dataclass, field, fields, is_dataclass, replace
from threading import Barrier

import pytest

from logbook.value import Value


class Level(Value):
    vaporizer: str
    level_ml: int = 0
    told: list[str] = field(default_factory=list)


class Fill(Level):
    lot: str = ""


def test_a_value_is_compared_copied_and_told_by_its_fields() -> None:
    one = Level("iso1", 180)
    assert one == Level("iso1", level_ml=180) != Level("iso1")
    assert replace(one, level_ml=90) == Level("iso1", 90)
    assert repr(Level("iso1")).endswith("Level(vaporizer='iso1', level_ml=0, told=[])")
    assert Level("iso1").told is not Level("iso1").told


def test_a_kind_has_the_fields_of_its_base_and_equals_no_other_kind() -> None:
    assert [one.name for one in fields(Fill("iso1"))] == ["vaporizer", "level_ml", "told", "lot"]
    assert Fill("iso1") != Level("iso1")


def test_a_plain_dataclass_may_derive_from_a_value_that_was_never_made() -> None:
    class Read(Value):
        at_s: int

    @dataclass(frozen=True, slots=True)
    class Gauge(Read):
        psi: int

    assert Gauge(7, psi=900) == Gauge(at_s=7, psi=900)


def test_a_value_takes_no_other_content() -> None:
    with pytest.raises(FrozenInstanceError):
        Level("iso1").level_ml = 90  # type: ignore[misc]


def test_a_value_that_lacks_a_field_is_not_made() -> None:
    with pytest.raises(TypeError, match="vaporizer"):
        Level()  # type: ignore[call-arg]


def test_a_kind_costs_nothing_until_the_first_of_it_is_made() -> None:
    class Never(Value):
        at_s: int

    assert not is_dataclass(Never)
    Never(7)
    assert is_dataclass(Never)


@pytest.fixture
def hasty_threads() -> Iterator[None]:
    """Threads that take turns in the midst of building a class."""
    usual_s = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    yield
    sys.setswitchinterval(usual_s)


@pytest.mark.usefixtures("hasty_threads")
def test_threads_that_make_the_first_one_at_once_all_have_theirs() -> None:
    def race(make: Callable[[int], object]) -> list[object]:
        together = Barrier(4)

        def one(n: int) -> object:
            together.wait(30)
            return make(n)

        with ThreadPoolExecutor(4) as pool:
            return list(pool.map(one, range(4)))

    for _ in range(20):

        class Raced(Value):
            n: int

        assert race(Raced) == [Raced(n) for n in range(4)]
