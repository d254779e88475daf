"""A clinic's own list, with keys of its own, feeds the same readings and settles the same test."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from logbook.entries.check import ItemAnswer
from tests.conftest import Ran

Command = Callable[..., Ran]
ITEM = """
[[group.item]]
key = "{0}"
title = "{0}"
kind = "{1}"
stops = true
how = "Look."
why = "It matters."
source = "our own"
confidence = "set by the clinic"
{2}
"""
LEAK = 'unit = "mL/min"\nat_most = "leak-flow"\npressure = "leak-pressure"\n'
OURS = 'name = "ours"\nversion = 1\ntitle = "Ours"\n\n[[group]]\ntitle = "All of it"\n' + "".join(
    ITEM.format(*item)
    for item in (
        ("our-cylinder", "number", 'unit = "psi"\nat_least = "cylinder-low"\nreads = "cylinder"'),
        ("our-pipeline", "number", 'unit = "psi"\nreads = "pipeline"'),
        ("our-scale", "number", 'unit = "g"\nreads = "charcoal"'),
        ("our-hiss", "number", f'{LEAK}tests = "leak"'),
        ("pop-off-open", "tick", ""),
    )
)
SEEN = {"our-cylinder": "1500", "our-pipeline": "52", "our-scale": "251", "pop-off-open": "passed"}


@pytest.fixture
def ours(bay1: Command, tmp_path: Path) -> Command:
    """A clinic that walks its own list, whose absorbent and canister were changed this morning."""
    path = tmp_path / "ours.toml"
    path.write_text(OURS)
    for line in (
        ("checklist", "load", str(path)),
        ("machine", "change", "bay1", "--scavenging", "charcoal", "--because", "fitted"),
        ("oxygen", "change", "bay1", "--size", "E", "--at", "2026-03-06 07:00"),
        ("charcoal", "change", "bay1", "--weight", "200g", "--at", "2026-03-06 07:00"),
    ):
        assert bay1(*line).code == 0
    return bay1


def walk(ours: Command, leak: str, at: str) -> int:
    answers = json.dumps(SEEN | {"our-hiss": leak})
    ran = ours("check", "bay1", "--list", "ours", "--answers", "-", "--at", at, stdin=answers)
    assert ran.code in (0, 3), ran.err
    return ran.code


def squeezed(ran: Ran) -> str:
    """What a command shows, whatever the width."""
    return " ".join(ran.out.split())


def test_what_it_reads_counts_as_a_reading(ours: Command) -> None:
    walk(ours, "100", "2026-03-06 08:00")
    due = {one["clock"]: one for one in ours("due", "--all", "--json").json["items"]}
    assert due["weight gained"]["standing"] == "overdue"
    assert due["weight gained"]["used"] == "51"
    assert "pipeline 52 psi today" in ours("ready", "bay1", "--json").out
    entries = ours("history", "bay1", "--json").json["entries"]
    body = next(one["body"] for one in entries if one["kind"] == "check")
    told = {one["item"]: (one.get("reads"), one.get("tests")) for one in body["answers"]}
    assert told == {
        "our-cylinder": ("cylinder", None),
        "our-pipeline": ("pipeline", None),
        "our-scale": ("charcoal", None),
        "our-hiss": (None, "leak"),
        "pop-off-open": (None, None),
    }


def test_its_leak_test_settles_what_a_change_owes(ours: Command) -> None:
    owed = "no leak test since the absorbent change"
    walk(ours, "100", "2026-03-06 08:00")
    assert ours("absorbent", "change", "bay1", "--at", "2026-03-06 09:00").code == 0
    assert owed in squeezed(ours("ready", "bay1"))
    assert walk(ours, "240", "2026-03-06 10:00") == 3
    assert owed in squeezed(ours("ready", "bay1"))
    # The passed check is evidence; until somebody returns it, the machine stays out of service.
    assert walk(ours, "200", "2026-03-06 11:00") == 3
    assert owed not in squeezed(ours("ready", "bay1"))


def test_an_entry_that_does_not_say_what_it_reads_is_known_by_its_key() -> None:
    for key, unit, reading in (
        ("cylinder-pressure", "psi", "cylinder"),
        ("pipeline-pressure", "psi", "pipeline"),
        ("charcoal-weight", "g", "charcoal"),
        ("cylinder-pressure", "bar", None),
        ("vaporizer-level", "psi", None),
    ):
        answer = ItemAnswer(item=key, state="passed", value="100", unit=unit)
        assert answer.reading == reading
    assert ItemAnswer(item="cylinder-pressure", state="failed").reading is None
    assert ItemAnswer(item="breathing-system-leak", state="passed", held_s=12).tested == "leak"
    assert ItemAnswer(item="low-pressure-leak", state="passed", held_s=12).tested is None
