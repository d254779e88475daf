"""Clocks that jump, and clocks that the law sets: nothing is lost, reordered or guessed at."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo, available_timezones

import pytest

from logbook.answers.item import ask
from logbook.answers.moment import Moment, end_of, moment_at
from logbook.entries import model
from logbook.entries.clinic import Clinic, Staff
from logbook.entries.machine import Machine
from logbook.errors import InputError
from logbook.ledger.store import Draft, new_id, stored_rows
from logbook.office.office import CLOCK_WENT_BACK
from logbook.proof.verify import verify
from logbook.recording.opening import reading, writing
from logbook.recording.record import record, start_ledger
from logbook.times import local_text, parse_instant, utc_from_epoch_s, utc_text
from tests.conftest import NOW, Ran
from tests.ledger.scribe import Scribe

JUMPS = {
    "1 s": timedelta(seconds=1),
    "1 min": timedelta(minutes=1),
    "1 h": timedelta(hours=1),
    "1 d": timedelta(days=1),
    "30 d": timedelta(days=30),
    "10 years": timedelta(days=3650),
}
MINUTE = timedelta(minutes=1)
FIRST, LAST = datetime(2020, 1, 1, tzinfo=UTC), datetime(2041, 1, 1, tzinfo=UTC)
ODD_ZONES = (
    # At midnight, by half an hour, by two hours, at Ramadan, backwards in winter, one day a year.
    "America/Santiago", "Africa/Cairo", "Asia/Beirut", "Atlantic/Azores", "America/Havana",
    "Australia/Lord_Howe", "Antarctica/Troll", "Africa/Casablanca", "Africa/El_Aaiun",
    "Europe/Dublin", "America/Nuuk", "America/Scoresbysund", "Asia/Almaty", "Europe/Volgograd",
    "Asia/Amman", "Africa/Juba", "America/Asuncion", "Pacific/Apia", "Pacific/Chatham",
    "America/Denver", "Europe/Oslo", "Asia/Kathmandu", "UTC",
)  # fmt: skip


@pytest.mark.parametrize("ahead", [False, True], ids=["back", "forward"])
@pytest.mark.parametrize("jump", JUMPS)
def test_a_clock_that_jumps_is_recorded_flagged_and_never_reorders(
    jump: str, ahead: bool, bay1: Callable[..., Ran], clock: Callable[[datetime], None],
    ledger: Path,
) -> None:  # fmt: skip
    """A clock that goes forward is noticed when it is put right: then it goes back."""
    words = ("oxygen", "read", "bay1", "--cylinder", "1500psi")
    told = [bay1(*words, "--at", "2026-03-06 15:00")]
    clock(NOW + JUMPS[jump] if ahead else NOW - JUMPS[jump])
    told.append(bay1(*words, "--at", "now"))
    clock(NOW)
    told.append(bay1(*words, "--at", "2026-03-06 15:30"))
    assert [ran.code for ran in told] == [0, 0, 0], told
    flagged = [CLOCK_WENT_BACK in " ".join(ran.out.split()) for ran in told]
    assert flagged == ([False, False, True] if ahead else [False, True, False])
    with reading(ledger) as book:
        rows = list(stored_rows(book.connection))[-3:]
    jumped = NOW + JUMPS[jump] if ahead else NOW - JUMPS[jump]
    assert [datetime.fromisoformat(row.recorded_at) for row in rows] == [NOW, jumped, NOW]
    history = bay1("history", "bay1", "--json", "--as-of", "2037-01-01").json["entries"]
    happened = [one["happened_at"] for one in history if one["kind"] == "oxygen_reading"]
    assert happened == sorted(row.happened_at for row in rows)
    assert not verify(ledger).findings


FIRST_MOMENT = datetime(1, 1, 1, tzinfo=UTC)


def last_second(year: int) -> datetime:
    return datetime(year, 12, 31, 23, 59, 59, tzinfo=UTC)


@pytest.mark.parametrize(
    "now", [FIRST_MOMENT, *map(last_second, (1969, 1999, 2200, 5000, 9999))], ids=lambda at: at.year
)
def test_a_clock_in_a_year_that_cannot_be_saves_nothing_and_says_so(
    bay1: Callable[..., Ran], clock: Callable[[datetime], None], ledger: Path, now: datetime
) -> None:
    copy, fresh = ledger.with_name("copy.ledger"), ledger.with_name("fresh.ledger")
    assert bay1("backup", str(copy)).code == 0
    before = ledger.read_bytes()
    clock(now)
    new = ("--ledger", str(fresh), "new", "Birch", "--timezone")
    told = [
        bay1(*words)
        for words in (
            ("note", "x"), ("note", "x", "--at", "2026-03-02 07:00"), ("due",), ("board",),
            ("ready", "bay1"), ("check", "bay1"), ("rebuild",),
            ("restore", str(copy), "--go", "--because", "a look"),
            (*new, "UTC"), (*new, "Pacific/Kiritimati", "--since", "today"),
            (*new, "America/Denver", "--since", "today"),
        )
    ]  # fmt: skip
    sentence = f"this computer's clock says {utc_text(now)}; set it right.\n"
    assert [(ran.code, ran.out, ran.err.partition(": ")[2]) for ran in told] == [
        (2, "", sentence)
    ] * len(told)
    assert ledger.read_bytes() == before
    assert not fresh.exists()


@pytest.mark.parametrize("year", [2000, 2199])
def test_a_clock_in_the_first_and_the_last_year_that_can_be_saves(
    bay1: Callable[..., Ran], clock: Callable[[datetime], None], ledger: Path, year: int
) -> None:
    clock(datetime(year, 12, 31, 23, 59, 59, tzinfo=UTC))
    assert bay1("note", "x").code == 0
    assert not verify(ledger).findings


class Change(NamedTuple):
    """One change of a zone's clocks: its instant, and the wall time just before and at it."""

    at: datetime
    before: datetime
    after: datetime

    @property
    def skipped(self) -> timedelta:
        """How much of the wall time is missing; below zero where some comes twice."""
        return self.after - self.before


@cache
def changes(zone: ZoneInfo) -> list[Change]:
    """Every change of a zone's offset from 2020 to 2040, to the second."""
    days = (int(FIRST.timestamp()) + 86_400 * day for day in range((LAST - FIRST).days + 1))
    offsets = ((at_s, offset_at(zone, at_s)) for at_s in days)
    found = []
    for (low, before), (high, after) in pairwise(offsets):
        if before != after:
            found.append(change_between(zone, low, high))
    return found


def offset_at(zone: ZoneInfo, at_s: int) -> timedelta:
    return datetime.fromtimestamp(at_s, zone).utcoffset() or timedelta()


def change_between(zone: ZoneInfo, low: int, high: int) -> Change:
    """Halve the time until the second of the change is left."""
    offset = offset_at(zone, low)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if offset_at(zone, middle) == offset else (low, middle)
    at = utc_from_epoch_s(high)
    return Change(at, at.replace(tzinfo=None) + offset, at.astimezone(zone).replace(tzinfo=None))


def zones(size: str) -> list[ZoneInfo]:
    return [ZoneInfo(name) for name in (ODD_ZONES if size == "quick" else every_zone())]


def every_zone() -> list[str]:
    return sorted(available_timezones() - {"Factory", "localtime"})


def test_days_fit_together_around_every_change_of_every_zone(
    size: str, report: Callable[[str], None]
) -> None:
    count, lengths = 0, set()
    for zone in zones(size):
        for change in changes(zone):
            count += 1
            lengths |= days_around(zone, change.before.date())
    report(f"clock: {count} changes in {len(zones(size))} zones, days of {sorted(lengths)} h")
    assert {23.0, 23.5, 24.0, 24.5, 25.0} <= lengths
    assert min(lengths) >= 21
    assert max(lengths) <= 27


def days_around(zone: ZoneInfo, day: date) -> set[float]:
    """Check the days around a change; answer how many hours each has."""
    moment, lengths = end_of(day, zone), set()
    for step in range(-2, 3):
        today, next_day = (day + timedelta(days=step + more) for more in (0, 1))
        begins, ends = moment.day_began_s(today), moment.day_began_s(next_day)
        where = f"{zone.key} {today}"
        assert moment.day_of(begins) == moment.day_of(ends - 1) == today, where
        assert moment.day_of(begins - 1) == today - timedelta(days=1), where
        assert end_of(today, zone).at_s == ends - 1, where
        hours = [moment.day_of(at_s) for at_s in range(begins, ends, 1800)]
        assert set(hours) == {today}, where
        lengths.add((ends - begins) / 3600)
    return lengths


def test_a_wall_time_at_every_change_is_refused_or_asked_for(
    size: str, report: Callable[[str], None]
) -> None:
    skipped = repeated = 0
    for zone in zones(size):
        for change in changes(zone):
            if change.skipped > timedelta():
                skipped += 1
                gap_is_refused(zone, change)
            elif change.skipped < timedelta():
                repeated += 1
                repeated_time_is_asked_for(zone, change)
    report(f"clock: {skipped} skipped and {repeated} repeated stretches of wall time")
    assert skipped > 0
    assert repeated > 0


def gap_is_refused(zone: ZoneInfo, change: Change) -> None:
    """The whole gap is refused, and what the refusal suggests is accepted; its edges are read."""
    for wall in (change.before, change.before + change.skipped / 2, change.after - MINUTE):
        with pytest.raises(InputError, match="does not exist") as refusal:
            parse_instant(wall.isoformat(" "), zone, LAST)
        suggestion = str(refusal.value).partition("the next time that does is ")[2]
        assert parse_instant(suggestion, zone, LAST) == change.at, (zone.key, str(refusal.value))
    assert parse_instant(change.after.isoformat(" "), zone, LAST) == change.at
    assert parse_instant((change.before - MINUTE).isoformat(" "), zone, LAST) == change.at - MINUTE


def repeated_time_is_asked_for(zone: ZoneInfo, change: Change) -> None:
    """Both suggestions are accepted, and they are the two instants of that wall time."""
    for wall in (change.after, change.before - MINUTE):
        with pytest.raises(InputError, match="happens twice") as refusal:
            parse_instant(wall.isoformat(" "), zone, LAST)
        told = str(refusal.value).partition("add the offset: ")[2]
        first, second = told.removesuffix(" the second").split(" is the first, ")
        instants = [parse_instant(one, zone, LAST) for one in (first, second)]
        assert instants == [change.at + (wall - change.before), change.at + (wall - change.after)]
        for instant in instants:
            assert parse_instant(local_text(instant, zone), zone, LAST) == instant, zone.key
    assert parse_instant(change.before.isoformat(" "), zone, LAST) == change.at - change.skipped


CHECKED_ZONES = ("America/Denver", "Africa/Cairo", "America/Santiago", "Australia/Lord_Howe")


@pytest.mark.parametrize("name", CHECKED_ZONES)
def test_one_daily_check_a_day_is_found_on_its_own_day_around_each_change(
    name: str, tmp_path: Path, size: str
) -> None:
    """A check at the first, a middle and the last second of a day counts on that day alone."""
    zone, path = ZoneInfo(name), tmp_path / "zone.ledger"
    early = datetime(2026, 1, 1, tzinfo=UTC)
    bodies = (Clinic(name="A", timezone=name), Staff(initials="KO"), Machine(machine="bay1"))
    start_ledger(path, [Draft(body, early, "", new_id()) for body in bodies], zone, early)
    wanted = {"quick": 2, "ci": 8, "full": 40}[size]
    upcoming = [one for one in changes(zone) if one.at > early][:wanted]
    at = Moment(0, early.date(), zone)
    with writing(path) as book:
        tell = Scribe(book)
        for change in upcoming:
            for step in (-1, 0, 1):
                day = change.before.date() + timedelta(days=step)
                begins = at.day_began_s(day)
                ends = at.day_began_s(day + timedelta(days=1))
                at_s = (begins, (begins + ends) // 2, ends - 1)[step]
                seq = record_check(tell, at_s)
                found_today = ask(book.connection, end_of(day, zone)).known.checks.today("bay1")
                assert found_today is not None
                assert (found_today.entry, found_today.at) == (seq, utc_from_epoch_s(at_s))
                before = moment_at(utc_from_epoch_s(at_s - 1), zone)
                early_look = ask(book.connection, before).known.checks.today("bay1")
                assert early_look is None or early_look.entry != seq


def record_check(tell: Scribe, at_s: int) -> int:
    """A check at an instant that may lie far ahead of the scribe's own clock."""
    answer = {"item": "bag", "state": "passed"}
    body = model("check").of(machine="bay1", checklist="daily", version=1, answers=(answer,))
    draft = Draft(body, utc_from_epoch_s(at_s), "KO", new_id())
    return record(tell.book, draft, LAST).entry.seq
