"""`logbook correct` as a hand uses it: what can be changed, whose initials, one answer, an end."""

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from shutil import copyfile
from typing import Any

import pytest

from logbook.checklists import builtin
from tests.conftest import Ran

Command = Callable[..., Ran]
OWN = (
    'name = "own"\nversion = {0}\ntitle = "Our own list"\n[[group]]\ntitle = "All"\n'
    '[[group.item]]\nkey = "flowmeters"\ntitle = "Flowmeters move"\nstops = true\n'
    'kind = "tick"\nhow = "Turn them."\nwhy = "A stuck one lies."\nsource = "our own"\n'
    'confidence = "set by the clinic"\n'
    '[[group.item]]\nkey = "cylinder"\ntitle = "Cylinder"\nstops = true\nkind = "number"\n'
    'unit = "psi"\nat_least = "cylinder-low"\nhow = "Read it."\nwhy = "It runs out."\n'
    'source = "our own"\nconfidence = "set by the clinic"\n'
)


@pytest.fixture
def checked(bay1: Command, tmp_path: Path) -> Command:
    """A clinic with RT beside KO, and entry 8: a passed check by KO of a list of two items."""
    assert bay1("staff", "add", "RT", "Robin Tran").code == 0
    (tmp_path / "own.toml").write_text(OWN.format(1))
    assert bay1("checklist", "load", str(tmp_path / "own.toml")).code == 0
    (tmp_path / "ok.json").write_text(json.dumps({"flowmeters": "passed", "cylinder": "1500psi"}))
    walked = ("check", "bay1", "--list", "own", "--answers", str(tmp_path / "ok.json"))
    assert bay1(*walked, "--at", "7:10").code == 0
    return bay1


def history(bay1: Command) -> list[dict[str, Any]]:
    return list(bay1("history", "bay1", "--json").json["entries"])


def last(bay1: Command) -> dict[str, Any]:
    return history(bay1)[-1]


def now_says(bay1: Command, entry: int = 8) -> str:
    return str(next(one["now_says"] for one in history(bay1) if one["entry"] == entry))


def test_a_number_alone_tells_what_can_be_changed_and_what_it_says_now(checked: Command) -> None:
    told = checked("correct", "8")
    assert (told.code, told.err) == (0, "")
    assert "Entry 8 says: bay1 own check passed, 2 items, 2026-03-06 07:10 by KO." in told.out
    rows = [line.split(maxsplit=1) for line in told.out.splitlines()[2:]]
    assert ["initials", "KO"] in rows
    assert ["machine", "bay1"] in rows
    assert ["item", "flowmeters  passed"] in rows
    assert not {"checklist", "version"} & {row[0] for row in rows}
    assert not any(one["kind"] == "correction" for one in history(checked))


def test_what_can_be_changed_is_told_in_words_with_its_unit(bay1: Command) -> None:
    bay1("oxygen", "change", "bay1", "--size", "E", "--cylinder", "1,800psi")
    told = bay1("correct", "last").out
    assert "cylinder  1800 psi" in told
    assert "cylinder_psi" not in told
    bay1("correct", "last", "--set", "cylinder=100 bar", "--because", "misread")
    assert last(bay1)["body"]["body"]["cylinder_psi"] == "1450.377"
    bay1("note", "caster squeaks", "--on", "bay1")
    bay1("correct", "last", "--set", "text=wheel squeaks", "--because", "word")
    assert last(bay1)["body"]["body"]["text"] == "wheel squeaks"


@pytest.mark.parametrize(
    ("pair", "sentence"),
    [
        ("cylinder=100", "cylinder 100 is not a cylinder or pipeline pressure: it needs its unit"),
        ("pipeline=125bar", "did you mean the cylinder?"),
        ("colour=red", "it tells machine (bay1), cylinder (1800 psi), pipeline (not told)"),
        ("cylinder", 'cylinder has no = in it; write it like "lot=A17"'),
        ("=3", 'has no = in it; write it like "lot=A17"'),
    ],
)
def test_a_value_that_cannot_be_meant_is_refused(bay1: Command, pair: str, sentence: str) -> None:
    bay1("oxygen", "read", "bay1", "--cylinder", "1800psi")
    ran = bay1("correct", "last", "--set", pair, "--because", "misread")
    assert (ran.code, ran.out) == (2, "")
    assert sentence in ran.err
    assert len(ran.err.splitlines()) == 1


def test_a_code_name_with_its_unit_takes_a_bare_number(bay1: Command) -> None:
    bay1("oxygen", "read", "bay1", "--cylinder", "1800psi")
    assert bay1("correct", "6", "--set", "cylinder_psi=1700", "--because", "misread").code == 0
    assert last(bay1)["body"]["body"]["cylinder_psi"] == "1700"


@pytest.mark.parametrize("more", [("--initials", "rt"), ("--by", "RT")])
def test_initials_are_put_right_and_every_list_tells_who_really_did_it(
    checked: Command, more: tuple[str, str]
) -> None:
    ran = checked("correct", "8", *more, "--because", "RT did it")
    signer = "RT" if more[0] == "--by" else "KO"
    assert f"entry 8 replaced, RT did it, 2026-03-06 16:00 by {signer}." in ran.out
    assert now_says(checked).endswith("by RT")
    kept = checked("correct", "8", "--happened", "7:20", "--because", "later")
    assert kept.code == 0
    assert now_says(checked).endswith("2026-03-06 07:20 by RT")
    checked("correct", "8", "--restore", "--because", "KO after all")
    assert now_says(checked).endswith("07:10 by KO")


def test_a_case_is_listed_under_the_initials_that_were_put_right(checked: Command) -> None:
    checked("case", "log", "bay1", "--began", "8:10", "--ran", "1h")
    checked("correct", "last", "--initials", "RT", "--because", "RT did it")
    assert checked("case", "list", "--json").json["cases"][0]["by"] == "RT"


def test_initials_that_nobody_has_are_refused(checked: Command) -> None:
    ran = checked("correct", "8", "--initials", "ZZ", "--because", "ZZ did it")
    assert "nobody here signs as ZZ" in ran.err


def test_one_answer_of_a_check_is_judged_anew(checked: Command) -> None:
    ran = checked("correct", "8", "--item", "flowmeters=failed: stuck", "--because", "slip")
    assert "bay1 own check FAILED, flowmeters failed (stuck)" in ran.out
    ran = checked("correct", "8", "--item", "Flowmeters move=passed", "--because", "slip")
    assert "bay1 own check passed" in ran.out
    ran = checked("correct", "8", "--item", "cylinder=90 psi", "--because", "slip")
    assert "bay1 own check FAILED, cylinder failed" in ran.out
    ran = checked("correct", "8", "--item", "cylinder=not done: no light", "--because", "slip")
    assert "bay1 own check INCOMPLETE, cylinder not done (no light)" in ran.out


def test_a_correction_that_leaves_its_unit_out_of_service_says_so_first(bay1: Callable) -> None:
    done = ("service", "done", "bay1", "service", "--outcome")
    assert bay1(*done, "passed").saved
    failed = bay1("correct", "last", "--set", "outcome=failed", "--because", "misread")
    assert failed.code == 3
    assert failed.out.startswith("OUT OF SERVICE: bay1.\nSaved entry ")
    assert "To bring it back record a passed check or service" in failed.out
    passed = bay1("correct", "last", "--set", "outcome=passed", "--because", "read again")
    assert passed.code == 0
    assert "OUT OF SERVICE" not in passed.out


@pytest.mark.parametrize(
    ("pair", "sentence"),
    [
        ("flowmeters=fine", "item flowmeters cannot be fine; say one of: passed, failed"),
        ("hoses=passed", "there is no item hoses; known are flowmeters, cylinder"),
        ("cylinder=passed", "needs a value in psi"),
        ("flowmeters=not done", "is not done, so it needs a reason"),
        ("flowmeters", "has no = in it"),
    ],
)
def test_an_answer_that_does_not_fit_is_refused(checked: Command, pair: str, sentence: str) -> None:
    ran = checked("correct", "8", "--item", pair, "--because", "slip")
    assert (ran.code, ran.out) == (2, "")
    assert sentence in ran.err


def test_an_answer_is_judged_by_the_list_of_its_day(checked: Command, tmp_path: Path) -> None:
    newer = OWN.format(2).replace("cylinder-low", "cylinder-start")
    (tmp_path / "own.toml").write_text(newer)
    assert checked("checklist", "load", str(tmp_path / "own.toml")).code == 0
    ran = checked("correct", "8", "--item", "cylinder=900psi", "--because", "misread")
    assert "bay1 own check passed" in ran.out


def test_no_check_becomes_one_of_another_list(checked: Command) -> None:
    ran = checked("correct", "8", "--set", "checklist=weekly", "--because", "typo")
    assert ran.code == 2
    assert "checklist is nothing that this entry tells" in ran.err
    no_check = checked("correct", "3", "--item", "flowmeters=failed", "--because", "typo")
    assert "entry 3 is no check" in no_check.err


def test_the_end_of_a_live_case_is_found_by_its_begin(bay1: Command) -> None:
    bay1("case", "begin", "bay1", "--at", "8:00", "--flow", "2L/min", "--dial", "3")
    still = bay1("correct", "6", "--ran", "1h10", "--because", "forgot to end")
    assert "case 6 still runs on bay1; end it with: logbook case end bay1" in still.err
    bay1("case", "end", "bay1")
    ran = bay1("correct", "6", "--ran", "1h10", "--because", "forgot to end")
    assert "entry 7 replaced, forgot to end" in ran.out
    assert bay1("case", "list", "--json").json["cases"][0]["ran_s"] == 4200
    assert bay1("correct", "7", "--ended", "9:30", "--because", "forgot").code == 0
    assert bay1("case", "list", "--json").json["cases"][0]["ran_s"] == 5400
    both = bay1("correct", "6", "--ran", "1h", "--circuit", "adult", "--because", "forgot")
    assert "the end of case 6 stands in entry 7, its begin in 6" in both.err


def test_settings_of_a_live_case_are_corrected_where_they_count(bay1: Command) -> None:
    bay1("case", "begin", "bay1", "--at", "8:00", "--flow", "2L/min", "--dial", "3")
    bay1("case", "end", "bay1", "--at", "9:00")
    assert "entry 6 replaced" in bay1("correct", "6", "--dial", "2", "--because", "x").out
    bay1("correct", "7", "--dial", "1", "--because", "x")
    assert "entry 7 replaced" in bay1("correct", "6", "--dial", "2", "--because", "x").out


def test_last_is_the_newest_entry_that_can_be_corrected(bay1: Command) -> None:
    bay1("note", "caster squeaks", "--on", "bay1")
    assert "entry 6 withdrawn" in bay1("correct", "last", "--withdraw", "--because", "other").out
    assert "entry 6 replaced" in bay1("correct", "last", "--restore", "--because", "no").out


def test_a_correction_that_changes_nothing_or_too_much_is_refused(checked: Command) -> None:
    for words in (
        ("--initials", "KO"),
        ("--by", "KO"),
        ("--set", "machine=bay1"),
        ("--happened", "7:10"),
    ):
        ran = checked("correct", "8", *words, "--because", "slip")
        assert "entry 8 says that already; say what it should have said" in ran.err
    ran = checked("correct", "8", "--because", "slip")
    assert "logbook correct 8 tells what can be changed" in ran.err
    ran = checked("correct", "8", "--withdraw", "--initials", "RT", "--because", "slip")
    assert ran.code == 2
    assert (
        "there is no terminal to ask in; give --because"
        in checked("correct", "8", "--withdraw").err
    )
    assert "is a staff entry, which is not corrected" in checked("correct", "2").err
    assert "there is no entry 99" in checked("correct", "99").err


def test_what_was_corrected_is_one_list_of_all_units(checked: Command) -> None:
    assert checked("history", "--corrections").out == "Nothing was corrected in that time.\n"
    checked("machine", "add", "bay2")
    checked("note", "caster squeaks", "--on", "bay2")
    checked("correct", "last", "--withdraw", "--because", "other machine")
    checked("correct", "8", "--initials", "RT", "--because", "RT did it")
    listed = checked("history", "--corrections", "--json").json
    assert [(one["entry"], one["state"]) for one in listed["entries"]] == [
        (8, "replaced"),
        (10, "withdrawn"),
    ]
    assert "10 note on bay2" in checked("history", "bay2", "--corrections").out
    assert "8 bay1" not in checked("history", "bay2", "--corrections").out
    assert checked("history", "--corrections", "--until", "2026-03-05").out.startswith("Nothing")
    assert "name a machine or vaporizer: logbook history bay1" in checked("history").err


def test_one_answer_of_a_check_by_an_earlier_version_of_the_list_is_corrected(
    ledger: Path, run_logbook: Callable[..., Ran], clock: Callable[[datetime], None]
) -> None:
    copyfile(Path(__file__).parents[1] / "fixtures" / "0.1.0.ledger", ledger)
    clock(datetime(2026, 3, 9, 17, tzinfo=UTC))
    checks = [
        one
        for one in run_logbook("history", "bay1", "--json").json["entries"]
        if one["kind"] == "check" and one["body"]["checklist"] == "daily"
    ]
    assert (checks[-1]["body"]["version"], builtin("daily").version) == (1, 2)
    seq, slip = str(checks[-1]["entry"]), ("--because", "slip")
    ran = run_logbook("correct", seq, "--item", "flowmeters=failed", *slip)
    assert "daily check FAILED, flowmeters failed" in " ".join(ran.out.split())
    ran = run_logbook("correct", seq, "--item", "flowmeters=passed", *slip)
    assert f"Entry {seq} now says: bay1 daily check passed, 22 items" in " ".join(ran.out.split())
