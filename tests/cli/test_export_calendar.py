"""What falls due as a calendar, read by two parsers that are other people's."""

import warnings
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from tests.conftest import NOW, Ran

Command = Callable[..., Ran]
DAY = timedelta(days=1)


@pytest.fixture
def planned(bay1: Command) -> Command:
    """Three clocks with a day: the charge of absorbent, and two services; and others without."""
    assert bay1("absorbent", "change", "bay1", "--at", "2026-03-02 07:30").saved
    plan = ("--every", "P6M", "--last", "2025-10-01")
    assert bay1("service", "plan", "bay1", "service", *plan).saved
    assert bay1("service", "plan", "iso1", "output verification", *plan).saved
    return bay1


def exported(run: Command, file: Path) -> dict[str, dict[str, Any]]:
    """The events of the file by what they are about, as icalendar reads them."""
    ran = run("export", "calendar", str(file))
    assert (ran.code, ran.err) == (0, ""), ran
    told = Calendar.from_ical(file.read_bytes())
    return {
        str(one["summary"]): {
            "uid": str(one["uid"]),
            "on": one.decoded("dtstart"),
            "sequence": one["sequence"],
            "stamp": one.decoded("dtstamp"),
            "status": str(one["status"]),
            "alarms": [alarm.decoded("trigger") for alarm in one.walk("VALARM")],
        }
        for one in told.walk("VEVENT")
    }


SERVICE, VERIFICATION = "bay1: service due", "iso1 on bay1: output verification due"
ABSORBENT = "bay1: absorbent due"


def test_each_clock_with_a_day_is_a_whole_day(planned: Command, tmp_path: Path) -> None:
    found = exported(planned, tmp_path / "due.ics")
    assert {name: one["on"] for name, one in found.items()} == {
        ABSORBENT: date(2026, 3, 16), SERVICE: date(2026, 4, 1), VERIFICATION: date(2026, 4, 1)
    }  # fmt: skip
    items = [one for one in planned("due", "--all", "--json").json["items"] if one["due_on"]]
    assert sorted(one["due_on"] for one in items) == sorted(
        one["on"].isoformat() for one in found.values()
    )


def test_it_reminds_a_week_before_and_on_the_day_in_the_morning(
    planned: Command, tmp_path: Path
) -> None:
    eight = timedelta(hours=8)
    assert exported(planned, tmp_path / "due.ics")[SERVICE]["alarms"] == [eight - 7 * DAY, eight]
    assert planned("rule", "set", "due-soon-days", "14", "--because", "far").saved
    assert exported(planned, tmp_path / "due.ics")[SERVICE]["alarms"] == [eight - 14 * DAY, eight]


def test_the_same_ledger_gives_the_same_bytes(
    planned: Command, tmp_path: Path, clock: Callable[[datetime], None]
) -> None:
    exported(planned, tmp_path / "a.ics")
    clock(NOW + DAY)
    exported(planned, tmp_path / "b.ics")
    assert (tmp_path / "a.ics").read_bytes() == (tmp_path / "b.ics").read_bytes()
    exported(planned, tmp_path / "b.ics")
    assert (tmp_path / "a.ics").read_bytes() == (tmp_path / "b.ics").read_bytes()


def test_after_a_service_one_event_moves_and_no_other_changes(
    planned: Command, tmp_path: Path
) -> None:
    before = exported(planned, tmp_path / "due.ics")
    assert planned("service", "done", "bay1", "service", "--outcome", "passed").saved
    after = exported(planned, tmp_path / "due.ics")
    assert {name for name in before if after[name] != before[name]} == {SERVICE}
    moved = after[SERVICE]
    assert moved["on"] == date(2026, 9, 6)
    assert moved["uid"] == before[SERVICE]["uid"]
    assert moved["sequence"] > before[SERVICE]["sequence"]
    assert [one["status"] for one in after.values()] == ["CONFIRMED"] * 3


def test_what_is_taken_back_moves_back_and_its_number_still_rises(
    planned: Command, tmp_path: Path
) -> None:
    first = exported(planned, tmp_path / "due.ics")[SERVICE]
    done = planned("service", "done", "bay1", "service", "--outcome", "passed")
    number = done.out.partition("Saved entry ")[2].partition(":")[0]
    second = exported(planned, tmp_path / "due.ics")[SERVICE]
    assert planned("correct", number, "--withdraw", "--because", "slip").saved
    third = exported(planned, tmp_path / "due.ics")[SERVICE]
    assert third["on"] == first["on"]
    assert first["sequence"] < second["sequence"] < third["sequence"]


def test_what_is_due_no_longer_is_cancelled_and_stays_so(planned: Command, tmp_path: Path) -> None:
    before = exported(planned, tmp_path / "due.ics")
    assert planned("vaporizer", "remove", "iso1").saved
    assert planned("machine", "retire", "bay1", "--because", "sold").saved
    after = exported(planned, tmp_path / "due.ics")
    for name in (SERVICE, ABSORBENT):
        assert (after[name]["status"], after[name]["alarms"]) == ("CANCELLED", [])
        assert after[name]["uid"] == before[name]["uid"]
        assert after[name]["sequence"] > before[name]["sequence"]
    # The vaporizer lies on the shelf and is still due there.
    shelf = after["iso1: output verification due"]
    assert (shelf["status"], shelf["uid"]) == ("CONFIRMED", before[VERIFICATION]["uid"])
    assert exported(planned, tmp_path / "due.ics") == after


def test_another_parser_reads_the_same(planned: Command, tmp_path: Path) -> None:
    file = tmp_path / "due.ics"
    found = exported(planned, file)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # What that library does in itself is its own.
        vobject = pytest.importorskip("vobject")
        read = vobject.readOne(file.read_text("utf-8"))
        assert read.method.value == "PUBLISH"
        told = {
            one.summary.value: (one.uid.value, one.dtstart.value, int(one.sequence.value))
            for one in read.vevent_list
        }
        assert told == {
            name: (one["uid"], one["on"], one["sequence"]) for name, one in found.items()
        }


def test_lines_are_no_longer_than_the_standard_allows(planned: Command, tmp_path: Path) -> None:
    """RFC 5545, 3.1: 75 octets without the break, which is a CR and a line feed."""
    exported(planned, tmp_path / "due.ics")
    lines = (tmp_path / "due.ics").read_bytes().split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert not any(b"\n" in line for line in lines)


def test_the_checkpoint_stands_in_it(planned: Command, tmp_path: Path) -> None:
    exported(planned, tmp_path / "due.ics")
    told = Calendar.from_ical((tmp_path / "due.ics").read_bytes())
    mark = planned("checkpoint", "--json").json["checkpoint"]
    groups = " ".join(mark["head"][at : at + 4] for at in range(0, 64, 4))
    assert f"{mark['entries']} entries, head {groups}" in str(told["description"])


@pytest.mark.parametrize("content", [b"", b"mine", b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n"])
def test_a_file_that_is_no_calendar_of_this_ledger_stays(
    planned: Command, tmp_path: Path, content: bytes
) -> None:
    (tmp_path / "due.ics").write_bytes(content)
    ran = planned("export", "calendar", str(tmp_path / "due.ics"))
    assert (ran.code, "exists already; it is no calendar of this ledger" in ran.err) == (2, True)
    assert (tmp_path / "due.ics").read_bytes() == content


def test_names_of_things_break_no_line_of_it(bay1: Command, tmp_path: Path) -> None:
    item = "hoses; bag, valves\\n: all"
    plan = ("service", "plan", "bay1", item, "--every", "P6M", "--last", "2025-10-01")
    assert bay1(*plan).saved
    found = exported(bay1, tmp_path / "due.ics")
    assert f"bay1: {item} due" in found
