"""The office: one act, one reading of the clock, what was saved and what follows from it."""

import inspect
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from logbook.answers import consequence, consequences
from logbook.answers.consequence import Care, Caution, Consequence, OutOfService
from logbook.answers.consequences import FOLLOWS
from logbook.cli.desk import Desk
from logbook.entries import KINDS, model
from logbook.entries.base import Door
from logbook.errors import InputError
from logbook.ledger.store import new_id
from logbook.office.office import CLOCK_WENT_BACK, Office, Opened
from logbook.office.taking_down import Content, Told, take_down
from logbook.projections.facts import FACTS
from logbook.proof.seen import Memory
from logbook.recording.refusals.content import REFUSALS
from logbook.recording.retry import KeptIdentity
from logbook.sheets.consequences import CARE, consequence_text
from logbook.sheets.sentences import _TOLD
from tests.conftest import NOW, Ran

SHELL = Door(name="shell")


@dataclass
class Clock:
    """A clock that goes on by a second whenever it is read."""

    now: datetime
    read: int = 0

    def __call__(self) -> datetime:
        self.read += 1
        self.now += timedelta(seconds=1)
        return self.now


@dataclass
class Door:
    """A door that tells an office what it was told, and keeps what it warns of."""

    office: Office
    warnings: list[str] = field(default_factory=list)

    def told(self, kind: str, at: datetime = NOW, **fields: object) -> Told:
        body = model(kind).of(**fields)
        identity = KeptIdentity(new_id(), Path("/dev/null/kept"), self.office.ledger)
        return Told(lambda _: (body, at), "KO", lambda _: identity, SHELL)

    def records(self, *every: Told) -> list[list[Consequence]]:
        with self.office.writing(self.warnings.append) as opened:
            return [take_down(opened, one).consequences for one in every]


@pytest.fixture
def ticking() -> Clock:
    return Clock(NOW)


@pytest.fixture
def door(ledger: Path, tmp_path: Path, ticking: Clock) -> Door:
    door = Door(Office(ledger, Memory(tmp_path / "seen"), ticking))
    door.records(door.told("machine", machine="bay1"))
    return door


def test_the_clock_is_read_once_when_an_act_is_handed_in_and_once_when_it_is_recorded(
    door: Door, ticking: Clock
) -> None:
    before = ticking.read
    door.records(*(door.told("note", text=text) for text in "ab"))
    assert ticking.read == before + 2
    with door.office.reading(door.warnings.append) as opened:
        assert opened.now == opened.handed_in == ticking.now
    assert ticking.read == before + 3
    assert door.warnings == []


def test_a_time_typed_before_midnight_means_that_day_when_the_lock_came_after_it(
    door: Door,
) -> None:
    typed, recorded = NOW.replace(hour=6, minute=59, second=58), NOW.replace(hour=7, second=3)
    readings = iter((typed, recorded))
    office = replace(door.office, clock=lambda: next(readings))
    with office.writing(door.warnings.append) as opened:
        assert opened.now == recorded
        assert opened.instant("23:10", "--at") == typed.replace(minute=10, second=0)
        assert opened.day("today", "--since") == date(2026, 3, 5)


def test_what_follows_is_handed_back_as_values(door: Door) -> None:
    shut = door.told("case_begin", machine="bay1", circuit="unknown", pop_off_open=False)
    fault = door.told("fault", unit="bay1", what="leak", stops=True)
    begun, reported = door.records(shut, fault)
    assert begun[0] == Caution(Care.POP_OFF_SHUT)
    assert reported[0] == OutOfService("bay1", until_cleared=True)


def test_a_retry_makes_nothing_anew_and_says_the_same(door: Door) -> None:
    made: list[datetime] = []
    body = model("case_end").of(case_entry=4)

    def ended(opened: Opened) -> Content:
        made.append(opened.now)
        return body, NOW

    began_at = NOW - timedelta(hours=1)
    door.records(door.told("case_begin", began_at, machine="bay1", circuit="unknown"))
    told = Told(ended, "KO", door.told("case_end", case_entry=4).identity, SHELL)
    (first,) = door.records(told)
    with door.office.writing(door.warnings.append) as opened:
        again = take_down(opened, told)
    assert (len(made), again.saved.again, again.consequences) == (1, True, first)


def test_an_act_that_is_refused_saves_none_of_its_entries_and_keeps_no_identity(
    door: Door, tmp_path: Path
) -> None:
    kept = tmp_path / "kept"
    identity = KeptIdentity(new_id(), kept, door.office.ledger)
    first = Told(door.told("note", text="a").content, "KO", lambda _: identity, SHELL)
    with pytest.raises(InputError, match="bay9"):
        door.records(first, door.told("note", text="b", unit="bay9"))
    assert not kept.exists()
    with door.office.reading(door.warnings.append) as opened:
        assert opened.connection.exec_driver_sql("SELECT max(seq) FROM entry").scalar() == 3


def test_a_door_hears_of_a_clock_that_went_back_and_of_another_ledger(
    door: Door, ticking: Clock
) -> None:
    ticking.now -= timedelta(days=1)
    with door.office.reading(door.warnings.append):
        pass
    assert door.warnings == [CLOCK_WENT_BACK]
    ticking.now = NOW + timedelta(days=1)
    door.office.memory.remember_place(door.office.ledger, "another")
    with door.office.reading(door.warnings.append):
        pass
    assert "Another ledger lay at" in door.warnings[1]


def test_several_threads_work_in_one_office(door: Door) -> None:
    told = [door.told("note", text=str(number)) for number in range(20)]
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(door.records, told))
    with door.office.reading(door.warnings.append) as opened:
        rows = opened.connection.exec_driver_sql("SELECT body FROM entry WHERE kind = 'note'")
        assert {row[0] for row in rows} == {
            f'{{"door":{{"name":"shell"}},"text":"{number}"}}' for number in range(20)
        }
    assert door.warnings == []


@pytest.fixture
def midnight(bay1: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch) -> Iterator[list[datetime]]:
    """A clock that strikes midnight in Denver after it was read once."""
    last = datetime(2026, 3, 7, 6, 59, 59, tzinfo=UTC)
    read: list[datetime] = []

    def now(_: Desk) -> datetime:
        read.append(last + timedelta(seconds=bool(read)))
        return read[-1]

    monkeypatch.setattr(Desk, "now", now)
    return read


@pytest.mark.parametrize(
    "words",
    [
        ("case", "log", "bay1", "--began", "8:10", "--ran", "1h35"),
        ("case", "log", "bay1", "--began", "8:10", "--ended", "23:59"),
        ("absorbent", "change", "bay1", "--expiry", "2026-03-06", "--at", "23:58"),
        ("oxygen", "read", "bay1", "--cylinder", "1500psi", "--at", "23:58"),
        ("agent", "fill", "iso1", "--level", "200ml", "--at", "23:58"),
        ("service", "plan", "bay1", "service", "--every", "P6M", "--last", "today"),
        ("service", "done", "bay1", "service", "--outcome", "passed", "--at", "23:58"),
        ("note", "late", "--at", "23:58"),
        ("vaporizer", "add", "iso2", "--agent", "isoflurane", "--fit", "bay1", "--at", "23:58"),
    ],
)
def test_a_command_begun_before_midnight_is_not_refused_after_it(
    words: tuple[str, ...], midnight: list[datetime], bay1: Callable[..., Ran]
) -> None:
    ran = bay1(*words)
    assert (ran.saved, ran.err) == (True, "")
    assert len(midnight) == 2


# The registries agree

CONSEQUENCES = {
    one
    for one in vars(consequence).values()
    if isinstance(one, type) and issubclass(one, Consequence) and not one.__subclasses__()
}


def test_every_kind_of_entry_stands_in_every_registry() -> None:
    assert FOLLOWS.keys() == KINDS.keys()
    assert FACTS.keys() == KINDS.keys()
    assert _TOLD.keys() == KINDS.keys()
    assert REFUSALS.keys() <= KINDS.keys()


def test_every_consequence_is_said() -> None:
    said = consequence_text.registry.keys() - {object, Consequence}  # type: ignore[attr-defined]
    assert said == CONSEQUENCES
    assert CARE.keys() == set(Care)


def test_every_consequence_follows_from_some_kind() -> None:
    files = Path(inspect.getfile(consequences)).parent.glob("*.py")
    source = "".join(file.read_text() for file in files)
    for one in CONSEQUENCES:
        assert f"yield {one.__name__}(" in source or f"[{one.__name__}(" in source
    for care in Care:
        assert f"Caution(Care.{care.name})" in source
