"""The calendar that a program renews by itself."""

from collections.abc import Callable
from datetime import timedelta

from icalendar import Calendar

from logbook.page.feed import address
from logbook.page.world import World
from tests.conftest import NOW, Ran
from tests.page.conftest import Clocks, Screen


def test_it_is_there_for_whoever_knows_its_address(
    screen: Screen, world: World, bay1: Callable[..., Ran], clocks: Clocks
) -> None:
    assert bay1("absorbent", "change", "bay1", "--at", "2026-03-02 07:30").saved
    assert screen.get(f"/{address(world.key)}") == 200
    assert screen.answer is not None
    assert screen.answer.mimetype == "text/calendar"
    [event] = Calendar.from_ical(screen.answer.data).walk("VEVENT")
    first = (str(event["uid"]), event["sequence"])
    clocks.now = NOW + timedelta(minutes=5)
    assert bay1("absorbent", "change", "bay1", "--at", "2026-03-05 07:30").saved
    screen.get(f"/{address(world.key)}")
    [event] = Calendar.from_ical(screen.answer.data).walk("VEVENT")
    assert (str(event["uid"]), event["sequence"] > first[1]) == (first[0], True)


def told(screen: Screen, world: World) -> dict[str, tuple[str, str, int, int]]:
    """The events by what they are about: identity, status, number, and how many reminders."""
    assert screen.get(f"/{address(world.key)}") == 200
    assert screen.answer is not None
    return {
        str(one["summary"]): (
            str(one["uid"]), str(one["status"]), one["sequence"], len(one.walk("VALARM"))
        )
        for one in Calendar.from_ical(screen.answer.data).walk("VEVENT")
    }  # fmt: skip


def test_what_ended_for_good_is_told_as_cancelled(
    screen: Screen, world: World, bay1: Callable[..., Ran]
) -> None:
    """A machine that was retired with all its clocks, and a plan that was taken back."""
    assert bay1("absorbent", "change", "bay1", "--at", "2026-03-02 07:30").saved
    every = ("--every", "P6M", "--last", "2025-10-01")
    assert bay1("service", "plan", "bay1", "service", *every).saved
    assert bay1("service", "plan", "iso1", "output verification", *every).saved
    extra = bay1("service", "plan", "iso1", "wick", *every)
    number = extra.out.partition("Saved entry ")[2].partition(":")[0]
    before = told(screen, world)
    assert {status for _, status, _, _ in before.values()} == {"CONFIRMED"}
    assert bay1("correct", number, "--withdraw", "--because", "slip").saved
    assert bay1("vaporizer", "remove", "iso1").saved
    assert bay1("machine", "retire", "bay1", "--because", "sold").saved
    after = told(screen, world)
    gone = {
        "bay1: absorbent due": "bay1: absorbent due",
        "bay1: service due": "bay1: service due",
        "iso1: wick due": "iso1 on bay1: wick due",
    }
    for now, then in gone.items():
        uid, status, sequence, reminders = after.pop(now)
        assert (uid, status, reminders) == (before[then][0], "CANCELLED", 0)
        assert sequence > before[then][2]
    [(uid, status, _, _)] = after.values()
    assert (uid, status) == (before["iso1 on bay1: output verification due"][0], "CONFIRMED")


def test_a_service_moves_one_event_and_cancels_none(
    screen: Screen, world: World, bay1: Callable[..., Ran]
) -> None:
    plan = ("--every", "P6M", "--last", "2025-10-01")
    assert bay1("service", "plan", "bay1", "service", *plan).saved
    assert bay1("service", "plan", "iso1", "output verification", *plan).saved
    before = told(screen, world)
    assert bay1("service", "done", "bay1", "service", "--outcome", "passed").saved
    after = told(screen, world)
    assert {name: one[:2] for name, one in after.items()} == {
        name: one[:2] for name, one in before.items()
    }


def test_another_address_leads_nowhere(screen: Screen, world: World) -> None:
    right = address(world.key)
    assert screen.get(f"/{right.replace('.ics', '')}") == 404
    assert screen.get("/calendar/" + "0" * 32 + ".ics") == 404
    assert screen.get("/calendar/é") == 404
    assert address(b"another key") != right
