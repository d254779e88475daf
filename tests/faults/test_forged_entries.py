"""Entries appended by hand with a right hash: what counts of them, and who is told."""

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from logbook.entries import KINDS, model
from logbook.projections.project import NEVER_CORRECTED
from logbook.proof.verify import verify
from logbook.recording.opening import writing
from tests.conftest import NOW, Ran
from tests.faults.forger import drawn_body, forge
from tests.ledger.scribe import Scribe
from tests.ledger.weeks import busy_week

AT = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)


def withdrawal(seq: int) -> dict[str, Any]:
    return {"corrects": seq, "reason": "forged", "withdrawn": True}


@pytest.mark.parametrize("of", ["itself", "what comes later", "the clinic", "a person"])
def test_a_correction_of_what_cannot_be_corrected_counts_for_nothing_and_is_found(
    of: str, bay1: Callable[..., Ran], ledger: Path
) -> None:
    head = bay1("history", "bay1", "--json").json["checkpoint"]["entries"]
    corrects = {"itself": head + 1, "what comes later": head + 2, "the clinic": 1, "a person": 2}
    forged = forge(ledger, "correction", AT, withdrawal(corrects[of]))
    assert bay1("rebuild").code == 0
    assert bay1("note", "the bag is new", "--on", "bay1", "--by", "KO").code == 0
    assert bay1("rebuild").code == 0
    told = bay1("history", "bay1", "--json").json["entries"]
    assert [line["state"] for line in told if line["entry"] == head + 2] == ["as written"]
    assert [one.entry for one in verify(ledger).findings] == [forged]
    ran = bay1("verify")
    assert ran.code == 4
    assert f"entry {forged} corrects entry {corrects[of]}" in ran.out


LONG_AGO = datetime(2026, 1, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    ("kind", "body", "other", "check", "sentence"),
    [
        ("note", {"text": "x"}, dict.fromkeys(("at", "recorded"), LONG_AGO), "clock",
         "entry 6 was recorded at 2026-01-05T00:00:00Z, before entry 5 was"),
        ("note", {"text": "x"}, {"at": NOW + timedelta(seconds=121)}, "time",
         "entry 6 tells of 2026-03-06T23:02:01Z, after it was recorded"),
        ("note", {"text": "x"}, {"at": datetime(1999, 12, 31, 23, 59, 59, tzinfo=UTC)}, "time",
         "entry 6 tells of 1999-12-31T23:59:59Z, before all that is taken down"),
        ("case", {"machine": "bay1", "ended_at": "2027-01-01T00:00:00Z"}, {}, "time",
         "entry 6 tells of 2027-01-01T00:00:00Z, after it was recorded"),
        ("note", {"text": "x"}, {"happened_local": "2026-03-02T08:00:00-07:01"}, "time",
         "entry 6 has a wall time, '2026-03-02T08:00:00-07:01', that is not 2026-03-06T23:00:00Z"),
        ("note", {"text": "x"}, {"recorded_local": "soon"}, "time",
         "entry 6 has a wall time, 'soon', that is not 2026-03-06T23:00:00Z"),
        ("note", {"text": "x"}, {"by": "ZZ"}, "signer",
         "entry 6 is signed by 'ZZ', who was not on the staff then"),
        ("note", {"text": "x"}, {"by": ""}, "signer", "entry 6 is signed by nobody"),
        ("note", {"text": "x", "unit": "bay9"}, {}, "unit",
         "entry 6 names 'bay9', which no entry brought"),
        ("clinic", {"name": "Birch", "timezone": "Europe/Oslo"}, {"by": ""}, "clinic",
         "entry 6 changes the clinic itself"),
        ("restore", {"from_entries": 3, "from_head": "0" * 64, "reason": "x"}, {}, "restore",
         "entry 6: a copy of 3 entries was brought back, an unknown number of entries lost by it"),
    ],
)  # fmt: skip
def test_an_entry_appended_by_hand_with_a_right_hash_is_remarked_on(
    bay1: Callable[..., Ran], ledger: Path, kind: str, body: dict[str, Any], other: dict[str, Any],
    check: str, sentence: str,
) -> None:  # fmt: skip
    assert bay1("verify", "--json").json["remarks"] == []
    forge(ledger, kind, **({"at": NOW, "recorded": NOW} | other), body=filled(kind, body))
    assert bay1("rebuild").code == 0
    ran = bay1("verify", "--json")
    assert (ran.code, ran.json["verified"], ran.json["findings"]) == (0, True, [])
    assert ran.json["remarks"] == [{"check": check, "entry": 6, "sentence": sentence}]
    assert f"Remark: {sentence}." in bay1("verify").out


def filled(kind: str, body: dict[str, Any]) -> dict[str, Any]:
    """A body with what its class fills in."""
    return model(kind).model_validate(body).model_dump(mode="json", exclude_none=True)


def test_two_minutes_between_two_computers_are_no_remark(
    bay1: Callable[..., Ran], ledger: Path
) -> None:
    forge(ledger, "note", NOW + timedelta(seconds=120), {"text": "x"}, recorded=NOW)
    assert bay1("rebuild").code == 0
    assert bay1("verify", "--json").json["remarks"] == []


def test_many_remarks_of_one_kind_are_told_in_short_and_all_of_them_as_json(
    bay1: Callable[..., Ran], ledger: Path
) -> None:
    for _ in range(7):
        forge(ledger, "note", NOW, {"text": "x"}, by="ZZ")
    assert bay1("rebuild").code == 0
    told = bay1("verify").out
    assert told.count("Remark: entry") == 5
    assert "Remark: and 2 more like this, told in its JSON." in told
    assert len(bay1("verify", "--json").json["remarks"]) == 7


def test_a_thorough_look_tells_what_would_be_refused_if_it_were_given_today(
    bay1: Callable[..., Ran], ledger: Path
) -> None:
    case = {"machine": "bay1", "circuit": "unknown", "ended_at": "2026-03-02T17:00:00Z"}
    for _ in range(2):
        forge(ledger, "case", AT, filled("case", case), recorded=NOW)
    assert bay1("rebuild").code == 0
    assert bay1("verify", "--json").json["remarks"] == []
    (remark,) = bay1("verify", "--thorough", "--json").json["remarks"]
    assert (remark["check"], remark["entry"]) == ("refused", 7)
    assert "would be refused: case 6 ran on bay1 then" in remark["sentence"]


CHECKED_AGAIN = {
    "machine": "bay1", "checklist": "daily", "version": 1, "again_of": 99,
    "answers": [{"item": "bag", "state": "passed"}],
}  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("check", CHECKED_AGAIN),
        ("case_end", {"case_entry": 99}),
        ("return_to_service", {"unit": "bay1", "evidence_entry": 99}),
    ],
)
def test_a_thorough_look_tells_of_a_number_that_is_no_entrys(
    bay1: Callable[..., Ran], ledger: Path, kind: str, body: dict[str, Any]
) -> None:
    seq = forge(ledger, kind, AT, filled(kind, body), recorded=NOW)
    assert bay1("rebuild").code == 0
    told = bay1("verify", "--thorough", "--json")
    assert told.code == 0
    assert [(one["check"], one["entry"]) for one in told.json["remarks"]] == [("refused", seq)]


def test_what_was_written_by_commands_leaves_nothing_to_remark(ledger: Path) -> None:
    with writing(ledger) as book:
        busy_week(Scribe(book))
    told = verify(ledger, thorough=True)
    assert {one.check for one in told.remarks} == {"restore"}
    assert told.findings == []


def test_an_entry_recorded_late_or_with_the_clock_set_back_is_marked_wherever_it_is_listed(
    bay1: Callable[..., Ran], clock: Callable[[datetime], None]
) -> None:
    typed = ("case", "log", "bay1", "--circuit", "adult", "--ran", "1h", "--began")
    assert bay1(*typed, "2026-03-05 08:00").saved
    assert bay1(*typed, "2026-03-06 14:01").saved
    assert bay1(*typed, "2026-03-06 15:01").saved
    clock(datetime(2026, 3, 5, 20, 0, tzinfo=UTC))
    assert "clock stands before" in bay1(*typed, "2026-03-05 11:01").out
    marks = {
        6: "[recorded 31 h afterwards]",
        9: "[recorded with the clock before the last entry's]",
    }
    clock(NOW)
    for listing in (("history", "bay1"), ("case", "list", "--since", "2026-03-01")):
        lines = " ".join(bay1(*listing).out.split()).replace(" 6 bay1", "\n6 bay1")
        for number in (7, 8, 9):
            lines = lines.replace(f" {number} bay1", f"\n{number} bay1")
        for line in lines.splitlines():
            number = int(line.split()[0])
            if number >= 6:
                assert (line.count("[recorded"), marks.get(number, "") in line) == (
                    number in marks, True,
                ), line  # fmt: skip


def test_a_clock_before_the_last_entry_is_told_by_a_command_that_reads(
    bay1: Callable[..., Ran], clock: Callable[[datetime], None]
) -> None:
    clock(NOW - timedelta(seconds=120))
    assert bay1("due").err == ""
    clock(NOW - timedelta(seconds=121))
    assert bay1("due").err == "This computer's clock stands before the last entry's: check it.\n"


def correction(held: list[str], chance: random.Random) -> dict[str, Any]:
    """Of some entry that can be corrected; what it says instead is as odd as anything here."""
    seq = chance.choice([n for n, kind in enumerate(held, 1) if kind not in NEVER_CORRECTED])
    told: dict[str, Any] = {"corrects": seq, "reason": "forged", "withdrawn": chance.random() < 0.3}
    if not told["withdrawn"]:
        told["body"] = drawn_body(held[seq - 1], chance)
        told["happened_at"] = chance.choice(INSTANTS)
    return told


INSTANTS = (
    "1900-01-01T00:00:00Z", "1999-12-31T23:59:59Z", "2000-01-01T00:00:00Z", "2026-03-02T16:00:00Z",
    "2026-03-06T23:00:00Z", "2026-03-08T09:30:00Z", "2199-12-31T23:59:59Z",
)  # fmt: skip


def drawn_header(chance: random.Random) -> dict[str, Any]:
    """Any time that verify lets pass, any signer, any wall time."""
    at, recorded = (datetime.fromisoformat(chance.choice(INSTANTS)) for _ in range(2))
    told = {"at": at, "recorded": recorded, "by": chance.choice(("KO", "ZZ", "", "\x1b[2J", "é"))}
    if chance.random() < 0.2:
        told["happened_local"] = chance.choice(("", "soon", "2026-03-02T16:00:00Z", "\x1b[2J"))
    return told


READ = (
    ("board",), ("due", "--all"), ("due", "--json"), ("ready", "bay1"), ("ready", "bay1", "--json"),
    ("ready", "bay1", "--weight", "12kg", "--for", "90min"), ("history", "bay1"),
    ("history", "bay1", "--json"), ("history", "iso1", "--since", "2026-01-01"),
    ("case", "list", "--since", "1950-01-01"), ("machine", "list"), ("machine", "show", "bay1"),
    ("vaporizer", "list"), ("vaporizer", "show", "iso1"), ("checklist", "list"),
    ("checklist", "show", "daily"), ("rule", "list"), ("staff", "list"), ("service", "list"),
    ("setup", "--weight", "12kg", "--species", "dog", "--machine", "bay1"), ("checkpoint",),
    ("due", "--as-of", "2026-03-01"), ("board", "--json"), ("due", "--week"),
    ("due", "--week", "--json"), ("due", "--as-known-on", "2026-03-03"), ("fault", "list"),
    ("ready", "bay1", "--as-known-on", "2026-03-03"), ("clinic", "show"),
    ("history", "bay1", "--as-known-on", "2026-03-03"), ("forecast", "show"),
    ("forecast", "show", "--json"), ("forecast", "score"), ("audit", "--from", "2000-01-01"),
    ("audit", "--from", "2026-02-01", "--as-known-on", "2026-03-03"),
    ("audit", "--from", "2026-02-01", "--json"), ("oxygen", "left", "bay1"),
)  # fmt: skip
WRITE = (
    ("note", "after all", "--on", "bay1"), ("absorbent", "change", "bay1"),
    ("oxygen", "read", "bay1", "--cylinder", "1500psi"),
    ("agent", "fill", "iso1", "--added", "9ml"),
    ("case", "begin", "bay1"), ("case", "end", "bay1"), ("fault", "report", "bay1", "leak"),
    ("case", "log", "bay1", "--began", "2026-03-05 08:10", "--ran", "1h"),
    ("service", "done", "bay1", "service", "--outcome", "passed"),
    ("charcoal", "weigh", "bay1", "815g"), ("machine", "profile", "bay1", "--pipeline", "yes"),
    ("vaporizer", "verify", "iso1", "--output", "2", "2.1"), ("case", "list"),
    ("correct", "6", "--withdraw", "--because", "slip"), ("rebuild",),
)  # fmt: skip
ROUNDS = {"quick": 2, "ci": 60, "full": 150}


def test_nothing_that_verify_passes_makes_any_command_fail_in_a_traceback(
    bay1: Callable[..., Ran], ledger: Path, chance: random.Random, size: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    """Entries of every kind, of any value that their class takes, each with a right hash."""
    whole, passed, forged = ledger.read_bytes(), 0, 0
    for _ in range(ROUNDS[size]):
        ledger.write_bytes(whole)
        kinds = [*KINDS, *chance.choices(list(KINDS), k=12)]
        chance.shuffle(kinds)
        held = ["clinic", "staff", "machine", "vaporizer", "vaporizer_fitting"]
        for kind in kinds:
            body = correction(held, chance) if kind == "correction" else drawn_body(kind, chance)
            forge(ledger, kind, **drawn_header(chance), body=body)
            held.append(kind)
        assert bay1("rebuild").code == 0
        assert verify(ledger).findings == []
        passed, forged = passed + 1, forged + len(kinds)
        for words in (*READ, *WRITE, *READ):
            ran = bay1(*words)
            assert ran.code in (0, 2, 3), (words, ran)
        assert not verify(ledger, thorough=True).findings
    report(f"hash-right forgeries: {forged} entries in {passed} ledgers that verify passes, "
           f"{len(READ) * 2 + len(WRITE)} commands on each")  # fmt: skip
