"""Every command at its work: what it prints, what follows from it, and its JSON."""

import json
import os
import shlex
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from logbook.checklists import builtin_names
from tests.cli.commandtree import without_store
from tests.conftest import Ran

Command = Callable[..., Ran]
Say = Callable[[str], Ran]
NOW = "2026-03-06 16:00"
"""The tests' clock as an entry tells it."""


@pytest.fixture
def say(bay1: Command, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Say:
    """Runs a command as it is typed, on machine bay1 with vaporizer iso1, in a wide terminal."""
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.chdir(tmp_path)

    def typed(line: str) -> Ran:
        return bay1(*shlex.split(line))

    return typed


def told(ran: Ran, *lines: str, code: int = 0) -> None:
    """The command printed exactly these lines."""
    assert (ran.code, ran.err) == (code, ""), ran
    assert ran.out.splitlines() == list(lines)


def number(ran: Ran) -> int:
    """The number of the entry that was saved, whatever calls for somebody."""
    assert ran.code in (0, 3), ran.err
    return int(ran.out.partition("Saved entry ")[2].partition(":")[0])


# What is there


@pytest.mark.parametrize(
    "line",
    [
        "service done bay1 service --outcome passed --certificate C-77",
        "service done iso1 'output verification' --outcome passed --output 2 2.1",
        "vaporizer verify iso1 --output 2 2.1 --certificate C-77",
    ],
)
def test_the_scanned_certificate_is_kept_by_its_hash(say: Say, tmp_path: Path, line: str) -> None:
    (tmp_path / "scan.pdf").write_bytes(b"abc")
    ran = say(f"{line} --certificate-file scan.pdf")
    # The SHA-256 of "abc" as FIPS 180-4 publishes it in its examples.
    sha256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert f"scanned certificate with SHA-256 {sha256[:16]}," in ran.out
    kind = "service" if "--output" not in line else "output_verification"
    assert say(f"export csv {kind} --out told.csv").saved
    assert sha256 in (tmp_path / "told.csv").read_text()
    assert (tmp_path / "scan.pdf").read_bytes() == b"abc"


def test_a_machine_is_added_changed_shown_and_retired(say: Say) -> None:
    told(
        say(
            'machine add bay2 --serial M-1002 --location "surgery 2" --absorbent 2lb '
            "--scavenging charcoal --flowmeter-max 4L/min"
        ),
        "Saved entry 6: machine bay2 added, serial M-1002, surgery 2, flowmeter to 4 L/min, "
        f"absorbent 907.18 g, scavenging charcoal, {NOW} by KO.",
    )
    told(
        say("machine change bay2 --location attic --absorbent 1200g --because moved"),
        f"Saved entry 7: machine bay2 changed, attic, absorbent 1200 g, moved, {NOW} by KO.",
    )
    told(
        say("machine show bay2"),
        "machine: bay2",
        "location: attic",
        "serial: M-1002",
        "flowmeter: to 4 L/min",
        "absorbent: 1200 g",
        "scavenging: charcoal",
        "not told: pipeline, oxygen flush, second gas, oxygen-failure alarm, oxygen monitor, "
        "mains power or battery, ventilator, suction, interlock, suction bulb, coaxial circuit, "
        "hours on the canister's",
        "  label, safety relief valve",
        "vaporizers: none",
        "ran in all: 0 s by its cases",
    )
    told(
        say('machine retire bay2 --because "replaced by bay7"'),
        f"Saved entry 8: machine bay2 retired, replaced by bay7, {NOW} by KO.",
    )
    told(
        say("machine list"),
        "bay1         serial M-1001  on it: iso1   ran 0 s",
        "bay2  attic  serial M-1002  no vaporizer  ran 0 s  retired 2026-03-06",
    )
    assert "bay2" not in say("board").out


def test_a_vaporizer_is_added_fitted_and_removed(say: Say) -> None:
    told(
        say(
            "vaporizer add sevo1 --agent sevoflurane --serial V-2002 --capacity 300ml "
            "--low-mark 60ml --fit bay1"
        ),
        "Saved entry 6: vaporizer sevo1 added, sevoflurane, serial V-2002, holds 300 mL, "
        f"low mark 60 mL, {NOW} by KO.",
        f"Saved entry 7: sevo1 fitted to bay1, {NOW} by KO.",
        "Leak-test bay1 with sevo1 on and off before the next case.",
    )
    say("machine add bay2")
    told(
        say("vaporizer fit sevo1 bay2"),
        f"Saved entry 9: sevo1 fitted to bay2, {NOW} by KO.",
        "Leak-test bay2 with sevo1 on and off before the next case.",
        "Leak-test bay1 without sevo1 before the next case.",
    )
    told(
        say('vaporizer remove sevo1 --because "sent for service"'),
        f"Saved entry 10: sevo1 removed, sent for service, {NOW} by KO.",
        "Leak-test bay2 without sevo1 before the next case.",
    )
    told(
        say("vaporizer list"),
        "iso1   isoflurane   on bay1        ran 0 s  level unknown: no level is recorded",
        "sevo1  sevoflurane  on no machine  ran 0 s  level unknown: no level is recorded",
    )


def test_a_person_is_added_and_listed_by_name(say: Say) -> None:
    told(say('staff add RT "Night technician"'), f"Saved entry 6: RT signs entries, {NOW} by KO.")
    told(say("staff list"), "KO  (no name kept)", "RT  Night technician")
    assert say("note 'all quiet' --by RT").out.endswith(" by RT.\n")


def test_a_ledger_is_started_once_and_never_replaced(say: Say, tmp_path: Path) -> None:
    line = '--ledger new.ledger new "Brook End Vets" --timezone Europe/Oslo --listing-day thursday'
    told(
        say(line),
        "Saved entry 1: Brook End Vets, Norway, time zone Europe/Oslo, week's list on Thursdays, "
        "2026-03-07 00:00.",
        "The ledger is new.ledger. Next: logbook staff add INITIALS NAME.",
    )
    before = (tmp_path / "new.ledger").read_bytes()
    again = say(line)
    assert (again.code, again.out) == (2, "")
    assert "never replaces a file" in again.err
    assert (tmp_path / "new.ledger").read_bytes() == before
    # The first person may sign for herself: nobody else could.
    assert say('--ledger new.ledger staff add KO "Day lead" --by KO').code == 0


def test_the_tables_are_rebuilt_to_the_same_answers(say: Say) -> None:
    say("case log bay1 --began 8:10 --ran 1h35 --circuit adult")
    before = say("due --all --json").json["items"], say("history bay1 --json").json
    told(say("rebuild"), "All tables are rebuilt from 6 entries.")
    assert (say("due --all --json").json["items"], say("history bay1 --json").json) == before


# Supplies


def test_fresh_absorbent_starts_its_clocks_anew(say: Say) -> None:
    say("case log bay1 --began 7:00 --ran 9h --circuit adult")
    assert "NO RECORD: absorbent" in say("due").out
    told(
        say(
            "absorbent change bay1 --mass 1200g --lot A17 --expiry 2027-06-30 --old hard --at 16:00"
        ),
        "Saved entry 7: bay1 absorbent changed, 1200 g, lot A17, expires 2027-06-30, "
        f"old granules hard, {NOW} by KO.",
    )
    assert "OK: absorbent, 0 of 8 h in use (last change 2026-03-06 16:00)" in say("due --all").out


def test_absorbent_that_had_expired_is_told_at_once(say: Say) -> None:
    ran = say("absorbent change bay1 --expiry 2026-03-05")
    told(
        ran,
        f"Saved entry 6: bay1 absorbent changed, expires 2026-03-05, {NOW} by KO.",
        "This absorbent expired on 2026-03-05, before it was filled in: change it.",
        code=3,
    )


def test_a_charge_above_what_the_canister_holds_is_told_at_once(say: Say) -> None:
    say("machine change bay1 --absorbent 1200g --because told")
    assert "canister" not in say("absorbent change bay1 --mass 1200g").out
    told(
        say("absorbent change bay1 --mass 1201g --kind without-strong-base"),
        "Saved entry 8: bay1 absorbent changed, 1201 g, absorbent without strong base, "
        f"{NOW} by KO.",
        "1201 g is more than the 1200 g that the canister is said to hold: correct the one or "
        "the other; until then 1200 g count.",
    )


def test_a_vaporizer_below_its_low_mark_is_told_at_once(say: Say) -> None:
    say("vaporizer add iso2 --agent isoflurane --capacity 250ml --low-mark 50ml")
    told(
        say("agent fill iso2 --level 250ml --lot B22"),
        f"Saved entry 7: iso2 filled, now 250 mL, lot B22, {NOW} by KO.",
        "iso2: about 250 mL left (250 mL on 2026-03-06).",
    )
    told(
        say("agent level iso2 50ml"),
        f"Saved entry 8: iso2 level 50 mL, {NOW} by KO.",
        "iso2: about 50 mL left, AT OR BELOW THE LOW MARK (50 mL on 2026-03-06).",
        "Used since the last reading: 200 mL as read, 0 mL by flow and dial.",
    )


def test_a_level_above_the_one_before_means_that_a_fill_is_not_recorded(say: Say) -> None:
    say("agent level iso1 50ml --at 8:00")
    told(
        say("agent level iso1 200ml --at 9:00"),
        "Saved entry 7: iso1 level 200 mL, 2026-03-06 09:00 by KO, recorded 7 h afterwards.",
        "iso1: about 200 mL left (200 mL on 2026-03-06, recorded 7 h afterwards).",
        "Used since the last reading: 150 mL more than before, so a fill is not recorded.",
    )


def test_a_cylinder_below_the_limit_is_told_at_once(say: Say) -> None:
    told(
        say("oxygen change bay1 --size E --cylinder 1900psi --at 8:00"),
        "Saved entry 6: bay1 oxygen cylinder changed, US size E, cylinder 1900 psi, "
        "2026-03-06 08:00 by KO, recorded 8 h afterwards.",
    )
    told(
        say("oxygen read bay1 --cylinder 200psi --pipeline 50psi --at 9:00"),
        "Saved entry 7: bay1 oxygen read, cylinder 200 psi, pipeline 50 psi, "
        "2026-03-06 09:00 by KO, recorded 7 h afterwards.",
        "Used since the last reading: 476 L as read, 0 L by flow.",
    )
    below = say("oxygen read bay1 --cylinder 199psi --at 10:00")
    assert below.out.splitlines()[1] == "The cylinder is below 200 psi: replace it."
    fresh = say("oxygen change bay1 --size E --cylinder 10bar --at 11:00")
    assert fresh.out.splitlines() == [
        "Saved entry 9: bay1 oxygen cylinder changed, US size E, cylinder 145 psi, "
        "2026-03-06 11:00 by KO, recorded 5 h afterwards.",
        "The cylinder is below 200 psi: replace it.",
    ]


def test_a_canister_that_gained_too_much_weight_is_told_first(say: Say) -> None:
    told(
        say("charcoal change bay1 --weight 780g --at 8:00"),
        "Saved entry 6: bay1 charcoal canister changed, 780 g, 2026-03-06 08:00 by KO, "
        "recorded 8 h afterwards.",
    )
    told(
        say("charcoal weigh bay1 831g"),
        f"Saved entry 7: bay1 charcoal canister weighed, 831 g, {NOW} by KO.",
        "OVERDUE: charcoal, 51 of 50 g weight gained (last change 2026-03-06 08:00, "
        "recorded 8 h afterwards)",
        "OK: charcoal, 0 of 12 h in use (last change 2026-03-06 08:00, recorded 8 h afterwards)",
        code=3,
    )


def test_a_canister_lighter_than_when_fresh_is_another_one_or_another_scale(say: Say) -> None:
    say("charcoal change bay1 --weight 780g --at 8:00")
    assert "another" not in say("charcoal weigh bay1 780g --at 9:00").out
    lighter = say("charcoal weigh bay1 779g")
    assert lighter.out.splitlines()[1] == (
        "That is less than the 780 g of it when fresh: another canister, or another scale?"
    )


def test_oxygen_left_in_a_machine_is_told_by_its_record(say: Say) -> None:
    assert "no cylinder gauge of bay1 is recorded" in say("oxygen left bay1 --flow 2L/min").err
    say("oxygen read bay1 --cylinder 1900psi --at 8:00")
    assert "size of bay1's cylinder is not" in say("oxygen left bay1 --flow 2L/min").err
    say("oxygen change bay1 --size E --cylinder 1500psi --at 9:00")
    told(
        say("oxygen left bay1 --flow 2L/min"),
        "About 182 min: 364.0 L above the reserve of 200 psi, by cylinder 1500 psi, 2026-03-06 "
        "09:00, recorded 7 h afterwards, US size E.",
    )
    say("case log bay1 --began 10:00 --ran 1h --flow 2L/min --dial 2")
    told(
        say("oxygen left bay1 --flow 2L/min"),
        "About 122 min: 244.0 L above the reserve of 200 psi, by cylinder 1500 psi, 2026-03-06 "
        "09:00, recorded 7 h afterwards, US size E, less 120 L used since.",
    )
    say("oxygen change bay1 --water 4.7L --cylinder 105bar --at 12:00")
    say("machine profile bay1 --cylinder 4.7L,E")
    say("oxygen read bay1 --cylinder 1200psi --number 2")
    told(
        say("oxygen left bay1 --flow 2L/min"),
        "About 351 min: 703.0 L above the reserve of 200 psi, by cylinder 1523 psi, 2026-03-06 "
        "12:00, recorded 4 h afterwards, 4.7 L of water; cylinder 2 at 1200 psi, 2026-03-06 "
        "16:00, US size E.",
    )
    assert (
        "cylinder 3 of bay1 is not told" in say("oxygen read bay1 --cylinder 9psi --number 3").err
    )
    both = say("oxygen left bay1 --gauge 1500psi --flow 2L/min")
    assert (both.code, "by its record" in both.err) == (2, True)
    assert "'--gauge'" in say("oxygen left --size E --flow 2L/min").err


# Cases


def test_a_case_is_logged_with_its_settings(say: Say) -> None:
    ran = say(
        "case log bay1 --began 8:10 --ran 1h35 --circuit adult --weight 53lb --species dog "
        "--stretch 15min 2L/min 3 --flow 1L/min --dial 2 --reference C-17"
    )
    said = (
        "Saved entry 6: bay1 case to 2026-03-06 09:45 (1 h 35 min), adult rebreathing, 24.04 kg, "
        "dog, 15 min 2 L/min dial 3 %, 1 L/min dial 2 %, with a reference, 2026-03-06 08:10 by KO, "
        "recorded 6 h afterwards."
    )
    assert said in " ".join(ran.out.split())
    assert "C-17" in say("case list").out
    # The exact weight stands in the entry.
    assert say("history bay1 --json").json["entries"][0]["body"]["weight_g"] == "24040.39561"
    by_end = say("case log bay1 --began 10:00 --ended 10:45")
    assert "bay1 case to 2026-03-06 10:45 (45 min), circuit unknown" in by_end.out


def test_what_stood_against_the_machine_is_said_in_capitals_before_what_was_saved(
    say: Say,
) -> None:
    say("fault report bay1 leak --out-of-service --at 7:00")
    ran = say("case log bay1 --began 8:10 --ran 1h")
    assert ran.code == 3
    assert ran.out.splitlines()[:4] == [
        "OUT OF SERVICE: bay1 since 2026-03-06 07:00, leak (entry 6).",
        "NO DAILY CHECK: none of bay1 that day before the case.",
        "ABSORBENT OF UNKNOWN AGE: no change on bay1 is recorded before the case.",
        "Saved entry 7: bay1 case to 2026-03-06 09:10 (1 h), circuit unknown, 2026-03-06 08:10 "
        "by KO, recorded 6 h afterwards.",
    ]
    listed = say("case list")
    assert listed.out.count("  flagged: ") == 3
    assert listed.code == 0
    assert [flag[:14] for flag in say("case list --json").json["cases"][0]["flags"]] == [
        "out of service", "no daily check", "absorbent of u",
    ]  # fmt: skip


@pytest.mark.parametrize("command", ["case begin bay1 --vaporizer iso1", "case begin bay1"])
def test_a_case_on_a_tipped_vaporizer_says_so_first_and_asks_for_attention(
    say: Say, command: str
) -> None:
    say("fault report iso1 tipped")
    ran = say(command)
    assert ran.out.splitlines()[0] == (f"OUT OF SERVICE: iso1 since {NOW}, tipped (entry 6).")
    assert ran.code == 3


def test_a_case_runs_live_from_begin_to_end(say: Say) -> None:
    begun = say("case begin bay1 --at 15:00 --circuit adult --weight 24kg")
    lines = begun.out.splitlines()
    assert lines[2] == (
        "Saved entry 6: bay1 case begun, adult rebreathing, 24 kg, 2026-03-06 15:00 by KO."
    )
    assert lines[-1] == (
        "Confirm that the pop-off valve is open, and watch that valves and bag move."
    )
    assert "still running" in say("case list").out
    refused = say("case begin bay1")
    assert "case 6 still runs on bay1 since 2026-03-06 15:00" in refused.err
    told(
        say("case end bay1 --at 15:45 --flow 1L/min --dial 2"),
        "Saved entry 7: case 6 ended, 1 L/min dial 2 %, 2026-03-06 15:45 by KO.",
        "bay1 ran 45 min.",
    )
    assert "no case runs on bay1" in say("case end bay1").err


def test_a_forgotten_end_is_told_by_how_long_the_case_ran(say: Say) -> None:
    say("case begin bay1 --at '2026-03-05 08:05'")
    advice = say("case begin bay1").err
    assert "end it first with: logbook case end bay1 --at TIME, or --ran 1h10" in advice
    assert "case runs 1 day 7 h 55 min" in say("board").out or "case runs 31 h" in say("board").out
    both = say("case end bay1 --ran 1h10 --at 9:00")
    assert "give either --at or --ran" in both.err
    ended = say("case end bay1 --ran 1h10")
    assert (
        "Saved entry 7: case 6 ended, 2026-03-05 09:15 by KO, recorded 30 h afterwards."
        in ended.out
    )
    assert "bay1 ran 1 h 10 min." in ended.out
    say("case begin bay1 --at 6:00")
    long = say("case end bay1 --at 15:00")
    assert long.code == 3
    assert (
        "Case 8 on bay1 ran 9 h: if its end was forgotten, correct it: logbook correct 8 --ran "
        "1h10 --because REASON"
    ) in long.out


@pytest.mark.parametrize(
    ("valve", "lines"), [("open", []), ("shut", ["THE POP-OFF VALVE IS SHUT: open it now."])]
)
def test_the_pop_off_valve_is_told_when_a_case_begins(
    say: Say, valve: str, lines: list[str]
) -> None:
    ran = say(f"case begin bay1 --pop-off {valve}")
    shown = [line for line in ran.out.splitlines() if "pop-off" in line.lower()]
    seen = "open" if valve == "open" else "SHUT"
    assert f"pop-off valve {seen}" in shown[-1]
    assert shown[:-1] == lines == ran.out.splitlines()[: len(lines)]


# Services and faults


def test_a_planned_service_says_when_it_is_due(say: Say) -> None:
    told(
        say('service plan iso1 "output verification" --every P12M --last 2025-03-12'),
        "Saved entry 6: iso1 output verification planned, every 12 months, "
        f"last done 2025-03-12, {NOW} by KO.",
        "DUE SOON: iso1 output verification, due on Thu 2026-03-12 (last done 2025-03-12)",
    )
    told(
        say("service plan bay1 service --run-hours 500 --source 'manual, page 12'"),
        "Saved entry 7: bay1 service planned, every 500 run hours, no last date known, "
        f"manual, page 12, {NOW} by KO.",
        "NO RECORD: service, no service is recorded",
    )
    told(
        say("service plan bay1 hoses --every FREQ=MONTHLY;BYMONTHDAY=1 --last 2026-02-01"),
        "Saved entry 8: bay1 hoses planned, every FREQ=MONTHLY;BYMONTHDAY=1, "
        f"last done 2026-02-01, {NOW} by KO.",
        "OVERDUE: hoses, due on Sun 2026-03-01 (last done 2026-02-01)",
        code=3,
    )
    told(
        say("service list"),
        "bay1",
        "  OVERDUE: hoses, due on Sun 2026-03-01 (last done 2026-02-01)",
        "  NO RECORD: service, no service is recorded",
        "  DUE SOON: iso1 output verification, due on Thu 2026-03-12 (last done 2025-03-12)",
    )


@pytest.mark.parametrize(
    ("every", "words"),
    [
        ("P1D", "every day"),
        ("P7D", "every 7 days"),
        ("P2W", "every 2 weeks"),
        ("P1M", "every month"),
        ("P1Y", "every year"),
    ],
)
def test_an_interval_is_told_in_words(say: Say, every: str, words: str) -> None:
    ran = say(f"service plan bay1 service --every {every} --last 2026-03-01")
    assert f"service planned, {words}, last done" in ran.out


def test_a_service_outside_its_tolerance_fails_and_stops_the_vaporizer(say: Say) -> None:
    say('service plan iso1 "output verification" --every P12M')
    line = 'service done iso1 "output verification" --output 1 1.05 --output 2 2.4'
    refused = say(f"{line} --outcome passed")
    assert "outside the tolerance" in refused.err
    told(
        say(f"{line} --outcome failed --certificate C-77 --done-by 'field engineer'"),
        "OUT OF SERVICE: iso1, not to be used until the maker's procedure clears it.",
        "Saved entry 7: iso1 output verification FAILED, done by field engineer, "
        "certificate C-77, dial 1 % gave 1.05 %, dial 2 % gave 2.4 % (outside tolerance), "
        f"{NOW} by KO.",
        "Worst of it: dial 2 % gave 2.4 % (+20.0 %), allowed 1.7 to 2.3 %: FAIL.",
        "To bring it back record a passed output verification, and: logbook return-to-service iso1",
        "Not corrected for altitude: neither height nor pressure of the air is known; "
        "tell it with: logbook clinic change --altitude 1600m --because REASON",
        "DUE: iso1 output verification, the service of 2026-03-06 failed (entry 7)",
        code=3,
    )
    assert "OUT OF SERVICE" in say("vaporizer show iso1").out


def test_a_tipped_vaporizer_is_out_of_service_until_evidence_brings_it_back(say: Say) -> None:
    told(
        say("fault report iso1 tipped --detail 'fell over on the cart' --at 8:00"),
        "OUT OF SERVICE: iso1, not to be used until the maker's procedure clears it.",
        "Saved entry 6: iso1 tipped, fell over on the cart, OUT OF SERVICE, "
        "2026-03-06 08:00 by KO, recorded 8 h afterwards.",
        "To bring it back record a passed output verification, and: logbook return-to-service iso1",
        code=3,
    )
    assert "NO: iso1 out of service since 2026-03-06 08:00: tipped" in say("ready bay1").out
    early = say("return-to-service iso1 --evidence 6")
    assert "entry 6 is no passed check or service that clears iso1" in early.err
    none = say("return-to-service iso1")
    assert "nothing recorded since iso1 went out of service shows" in none.err
    assert "record a passed output verification first" in none.err
    done = say('service done iso1 "output verification" --outcome passed --at 12:00')
    assert done.out.splitlines()[0] == "OUT OF SERVICE: iso1."
    evidence = "Entry 7 can serve as evidence: put iso1 back in service: "
    assert f"{evidence}logbook return-to-service iso1" in done.out
    proposed = say("return-to-service iso1")
    assert proposed.code == 2
    assert "7 iso1 output verification passed, 2026-03-06 12:00 by KO" in proposed.err
    assert "--evidence 7" in proposed.err
    due = say("due --json").json["out_of_service"]
    assert [(one["unit"], one["back"], one["evidence"]) for one in due] == [
        ("iso1", "a passed output verification", [7])
    ]
    told(
        say(f"return-to-service iso1 --evidence {number(done)} --remark 'steps done'"),
        f"Saved entry 8: iso1 back in service on entry 7, steps done, {NOW} by KO.",
    )
    assert "out of service" not in say("ready bay1").out


def test_a_fault_that_stops_nothing_says_so(say: Say) -> None:
    told(
        say("fault report bay1 leak"),
        f"Saved entry 6: bay1 leak, {NOW} by KO.",
        "bay1 stays in service; --out-of-service would take it out.",
    )
    assert "out of service" not in say("ready bay1").out
    assert "bay1 leak, since 2026-03-06 16:00 (entry 6)" in say("ready bay1").out


def test_an_open_fault_stays_on_the_lists_until_somebody_closes_it(say: Say) -> None:
    say("fault report bay1 leak --detail 'hiss at canister' --at 8:00")
    open_fault = "OPEN FAULT: bay1 leak, hiss at canister, since 2026-03-06 08:00 "
    open_fault += "(entry 6, recorded 8 h afterwards)"
    assert say("due").out.splitlines()[0] == open_fault
    told(say("fault list"), open_fault, code=3)
    assert "closed by" not in say("fault list --json").out
    early = say("fault close 6 --because 'new hose' --at 7:00")
    assert "the fault of entry 6 came later" in early.err
    told(
        say("fault close 6 --because 'new hose'"),
        f"Saved entry 7: bay1 fault of entry 6 closed, new hose, {NOW} by KO.",
    )
    told(say("fault list"), "No fault is open, and nothing is out of service.")
    assert say("fault list --as-of 15:00").code == 3
    assert "is closed by entry 7" in say("fault close 6 --because again").err
    assert "there is no fault 3" in say("fault close 3 --because x").err
    say("fault report bay1 leak --out-of-service")
    stops = say("fault close 8 --because x")
    assert "keeps bay1 from use" in stops.err
    assert "logbook return-to-service bay1" in stops.err


# Corrections, notes, rules


def test_a_case_is_corrected_and_its_first_words_stay(say: Say) -> None:
    case = number(say("case log bay1 --began 8:10 --ran 1h35 --circuit adult --weight 24kg"))
    told(
        say(f"correct {case} --ran 1h20 --set circuit='pediatric rebreathing' --because misread"),
        f"Saved entry 7: entry 6 replaced, misread, {NOW} by KO.",
        "Entry 6 now says: bay1 case to 2026-03-06 09:30 (1 h 20 min), pediatric rebreathing, "
        "24 kg, 2026-03-06 08:10 by KO.",
    )
    listed = say("case list --json").json["cases"][0]
    assert (listed["ran_s"], listed["circuit"]) == (4800, "pediatric rebreathing")
    assert listed["corrected_by"] == 7
    lines = say("history bay1").out.splitlines()
    assert lines[0].startswith("6 bay1 case to 2026-03-06 09:45 (1 h 35 min), adult rebreathing")
    assert lines[1] == "  [replaced by entry 7: misread]"
    assert lines[2].startswith("  now: bay1 case to 2026-03-06 09:30 (1 h 20 min)")


def test_a_case_is_moved_withdrawn_and_restored(say: Say) -> None:
    case = number(say("case log bay1 --began 8:10 --ran 1h35"))
    say(f"correct {case} --happened 9:10 --because 'an hour late'")
    moved = say("case list --json").json["cases"][0]
    assert (moved["began_at"], moved["ran_s"]) == ("2026-03-06T16:10:00Z", 5700)
    say(f"correct {case} --ended 9:40 --because 'ended early'")
    assert say("case list --json").json["cases"][0]["ran_s"] == 1800
    told(
        say(f"correct {case} --withdraw --because 'wrong machine'"),
        f"Saved entry 9: entry 6 withdrawn, wrong machine, {NOW} by KO.",
    )
    assert say("case list --json").json["cases"] == []
    assert "  [withdrawn by entry 9: wrong machine]" in say("history bay1").out
    say(f"correct {case} --restore --because 'right machine after all'")
    back = say("case list --json").json["cases"][0]
    assert (back["began_at"], back["ran_s"]) == ("2026-03-06T15:10:00Z", 5700)


def test_a_field_is_taken_out_by_an_empty_value(say: Say) -> None:
    change = number(say("absorbent change bay1 --lot A17 --mass 1200g"))
    say(f"correct {change} --set lot= --because 'no such lot'")
    entries = say("history bay1 --json").json["entries"]
    (line,) = [one for one in entries if one["entry"] == change]
    assert line["body"]["lot"] == "A17"
    assert (line["state"], line["corrected_by"]) == ("replaced", change + 1)


def test_withdrawn_entries_are_struck_through_in_a_terminal(
    say: Say, monkeypatch: pytest.MonkeyPatch
) -> None:
    say("note 'caster squeaks' --on bay1")
    say("correct 6 --withdraw --because 'other machine'")
    monkeypatch.setattr("logbook.cli.terminal.struck", lambda text: f"~{text}~")
    lines = say("history bay1").out.splitlines()
    assert f"~6 note on bay1, caster squeaks, {NOW} by KO~" in lines


def test_notes_are_kept_with_their_unit(say: Say) -> None:
    told(
        say("note 'caster squeaks' --on bay1"),
        f"Saved entry 6: note on bay1, caster squeaks, {NOW} by KO.",
    )
    told(
        say("note 'oxygen delivery late'"),
        f"Saved entry 7: note, oxygen delivery late, {NOW} by KO.",
    )
    assert "caster squeaks" in say("history bay1").out
    assert "oxygen delivery" not in say("history bay1").out


def test_a_rule_is_set_for_the_clinic_or_for_one_machine(say: Say) -> None:
    told(
        say("rule set absorbent-hours 6 --because 'hospital policy'"),
        f"Saved entry 6: limit absorbent-hours set to 6 h, for the clinic, hospital policy, {NOW} "
        "by KO.",
    )
    told(
        say("rule set leak-flow 150 --machine bay1 --because stricter --source 'manual, page 12'"),
        "Saved entry 7: limit leak-flow set to 150 mL/min, for bay1, stricter, "
        f"source: manual, page 12, {NOW} by KO.",
    )
    told(
        say("rule set absorbent-days 0 --because 'hours count alone'"),
        f"Saved entry 8: limit absorbent-days set to off, for the clinic, hours count alone, {NOW} "
        "by KO.",
    )
    told(
        say("rule set absorbent-counts-non-rebreathing 1 --because policy"),
        "Saved entry 9: limit absorbent-counts-non-rebreathing set to yes, for the clinic, policy, "
        f"{NOW} by KO.",
    )
    lines = say("rule list").out.splitlines()
    assert lines[0].startswith("absorbent-hours: 6 h (hospital policy, entry 6). ")
    assert lines[1].startswith("absorbent-days: off (hours count alone, entry 8). ")
    assert any(line.startswith("leak-flow: 200 mL/min. ") for line in lines)
    assert lines[-1].startswith("leak-flow on bay1: 150 mL/min (stricter, entry 7). ")
    sourced = say("rule list --sources").out
    assert "  source: manual, page 12 [set by the clinic]" in sourced
    assert sourced.count("  source: ") == len(lines)
    yesterday = say("rule list --as-of 2026-03-05").out
    assert yesterday.startswith("absorbent-hours: 8 h. ")


# Checks


PASSED = {
    "oxygen-alarm-sounds": "passed",
    "other-gases-stop": "not fitted",
    "cylinder-side-leak": "20 psi",
    "oxygen-back": "passed",
}
WEEKLY = "check bay1 --list oxygen-failure-alarm --answers answers.json"


def write_answers(**other: Any) -> None:
    """A file of answers to the weekly list."""
    named = {key.replace("_", "-"): answer for key, answer in other.items()}
    Path("answers.json").write_text(json.dumps(PASSED | named))


def test_a_check_that_passed_ends_with_code_0(say: Say) -> None:
    write_answers()
    told(
        say(WEEKLY),
        f"Saved entry 6: bay1 oxygen-failure-alarm check passed, 3 items, {NOW} by KO.",
    )
    assert "oxygen-failure-alarm check, due on Fri 2026-03-13" in say("due --all").out


def test_a_check_that_failed_ends_with_code_3_and_stops_the_machine(say: Say) -> None:
    write_answers(oxygen_alarm_sounds={"state": "failed", "reason": "silent"})
    told(
        say(WEEKLY),
        "OUT OF SERVICE: bay1.",
        "Saved entry 6: bay1 oxygen-failure-alarm check FAILED, "
        f"oxygen-alarm-sounds failed (silent), {NOW} by KO.",
        "oxygen-alarm-sounds: silent: FAIL; once mended, again alone with --redo "
        "oxygen-alarm-sounds",
        "To bring it back record a passed check or service, and: logbook return-to-service bay1",
        code=3,
    )
    assert "bay1 out of service since 2026-03-06 16:00: check failed" in say("ready bay1").out
    assert "OUT OF SERVICE" in say("machine list").out


def test_a_check_with_items_not_done_is_no_check(say: Say) -> None:
    write_answers(oxygen_back={"state": "not done", "reason": "patient waiting"})
    told(
        say(WEEKLY),
        "Saved entry 6: bay1 oxygen-failure-alarm check INCOMPLETE, "
        f"oxygen-back not done (patient waiting), {NOW} by KO.",
        "bay1 is not checked: items were not done.",
        code=3,
    )


def test_answers_can_come_through_a_pipe(bay1: Command) -> None:
    ran = bay1(
        *("check", "bay1", "--list", "oxygen-failure-alarm", "--answers", "-"),
        stdin=json.dumps(PASSED),
    )
    assert ran.code == 0, ran.err


def test_a_check_is_judged_by_the_limits_of_the_time_when_it_was_walked(say: Say) -> None:
    Path("own.toml").write_text(OWN_LIST)
    say("checklist load own.toml")
    say("rule set leak-flow 100 --because stricter --at 12:00")
    answers = {"hoses": "passed", "leak": {"value": "150 mL/min"}, "pop-off-open": "passed"}
    Path("answers.json").write_text(json.dumps(answers))
    line = "check bay1 --list before-dental --answers answers.json"
    early, late = say(f"{line} --at 11:00"), say(f"{line} --at 13:00")
    assert (early.code, late.code) == (0, 3)
    first, _, leak, _ = late.out.splitlines()
    assert (first, leak) == (
        "OUT OF SERVICE: bay1.",
        "leak: 150 mL/min, limit at most 100 at 30 cmH2O, pressure not told: FAIL; "
        "once mended, again alone with --redo leak",
    )


OWN_LIST = """
name = "before-dental"
version = 1
title = "Before dental work"
rhythm = "P1D"

[[group]]
title = "Circuit"

[[group.item]]
key = "hoses"
title = "Hoses whole"
kind = "tick"
stops = false
how = "Look along both hoses."
why = "A hole lets room air in."
source = "our own"
confidence = "set by the clinic"

[[group.item]]
key = "leak"
title = "Leak at test pressure"
kind = "number"
unit = "mL/min"
at_most = "leak-flow"
pressure = "leak-pressure"
stops = true
how = "Pop-off shut, end blocked, fill to test pressure: read the flow."
why = "A leak wastes agent into the room."
source = "our own"
confidence = "set by the clinic"

[[group.item]]
key = "pop-off-open"
title = "Pop-off valve is OPEN"
kind = "tick"
stops = true
how = "Turn it fully open."
why = "A shut valve can burst lungs."
source = "our own"
confidence = "set by the clinic"
"""


def test_a_clinic_loads_its_own_list_and_walks_it(say: Say) -> None:
    Path("own.toml").write_text(OWN_LIST)
    told(
        say("checklist load own.toml"),
        f"Saved entry 6: list before-dental version 1 loaded, {NOW} by KO.",
    )
    assert "before-dental version 1: Before dental work, 3 items, every day" in (
        say("checklist list").out
    )
    shown = say("checklist show before-dental").out.splitlines()
    assert shown[:4] == [
        "Before dental work (version 1)",
        "",
        "Circuit",
        "Hoses whole [hoses]: Look along both hoses.",
    ]
    answers = {"hoses": "failed", "leak": {"value": "0.12 L/min"}, "pop-off-open": "passed"}
    Path("answers.json").write_text(json.dumps(answers))
    told(
        say("check bay1 --list before-dental --answers answers.json"),
        f"Saved entry 7: bay1 before-dental check FAILED, hoses failed, {NOW} by KO.",
        "hoses: failed: FAIL; once mended, again alone with --redo hoses",
        code=3,
    )
    again = say("checklist load own.toml")
    assert "version 1 of the list before-dental is not newer" in again.err


def test_a_pop_off_valve_that_is_not_confirmed_open_is_told(say: Say) -> None:
    Path("own.toml").write_text(OWN_LIST)
    say("checklist load own.toml")
    answers = {
        "hoses": "passed",
        "leak": {"value": "120"},
        "pop-off-open": {"state": "not done", "reason": "called away"},
    }
    Path("answers.json").write_text(json.dumps(answers))
    ran = say("check bay1 --list before-dental --answers answers.json")
    assert ran.code == 3
    assert "The pop-off valve is not confirmed open: open it before anything else." in ran.out


# The small sums


def test_the_small_sums_need_no_ledger(say: Say, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOGBOOK_LEDGER", "/nowhere/at/all")
    told(
        say("agent use --agent isoflurane --dial 2 --flow 1L/min --for 60min"),
        "isoflurane at 2 %, 1 L/min for 1 h: about 6.3 mL of liquid, as at the sea.",
    )
    told(
        say("oxygen left --full 660L@1900psi --gauge 500psi --flow 6L/min --reserve 0psi"),
        "About 27 min: 166.8 L above the reserve of 0 psi, by 660L@1900psi when full.",
    )
    assert say("setup --weight 12kg").code == 0
    used = say("agent use --agent isoflurane --dial 2 --flow 1L/min --for 60min --json").json
    assert (used["schema"], used["seconds"]) == ("agent-use/1", 3600)
    left = say("oxygen left --size E --gauge 1500psi --flow 2L/min --json").json
    assert (left["schema"], left["minutes"], left["reserve_psi"]) == ("oxygen-left/1", 182, "200")


# Reading


def test_nothing_due_and_an_empty_clinic_say_so(run_logbook: Command) -> None:
    assert run_logbook("due").out.startswith("Nothing is due as of Friday 2026-03-06")
    assert run_logbook("due").code == 0
    for line in (("board",), ("machine", "list"), ("service", "list")):
        ran = run_logbook(*line)
        assert (ran.code, ran.out) == (
            0,
            "No machine is recorded yet. Next: logbook machine add bay1\n",
        )
    assert run_logbook("vaporizer", "list").out.startswith("No vaporizer is recorded yet.")
    assert run_logbook("case", "list").out == "No case is recorded since 2026-02-20.\n"


def test_the_list_of_a_day_ends_with_code_3_where_something_is_due(say: Say) -> None:
    assert say("due").code == 3
    assert say("board").code == 3
    assert say("ready bay1").code == 3
    say("rule set due-soon-days 1 --because 'a short look ahead'")
    assert say("service list").code == 0


def test_what_stood_on_another_day_can_be_asked(say: Say) -> None:
    say("absorbent change bay1 --at '2026-03-02 07:30'")
    day = say("due --all --as-of 2026-03-02").out
    assert day.startswith("Due as of Monday 2026-03-02")
    assert "last change 2026-03-02 07:30" in day
    assert "NO RECORD: absorbent" in say("due --as-of '2026-03-02 07:29'").out
    assert "last change" in say("due --all --as-of '2026-03-02 07:30'").out
    assert "last change" in say("due --all --as-of yesterday").out
    assert say("history bay1 --as-of 2026-03-01").out == (
        "Nothing is recorded about bay1 in that time.\n"
    )
    assert "absorbent changed" not in say("history bay1 --since 2026-03-03").out


SCHEMAS: dict[str, tuple[str, str, str | None]] = {
    "audit": ("audit --from 2026-03-02", "audit/1", "findings"),
    "board": ("board", "board/1", "machines"),
    "case list": ("case list", "case-list/1", "cases"),
    "checklist list": ("checklist list", "checklist-list/1", "checklists"),
    "checklist show": ("checklist show daily", "checklist/1", None),
    "checkpoint": ("checkpoint", "checkpoint/1", None),
    "clinic show": ("clinic show", "clinic/1", None),
    "due": ("due", "due/1", "items"),
    "fault list": ("fault list", "fault-list/1", None),
    "forecast score": ("forecast score", "forecast-score/1", None),
    "forecast show": ("forecast show", "forecast/1", None),
    "history": ("history bay1", "history/1", "entries"),
    "machine list": ("machine list", "machine-list/1", "machines"),
    "machine show": ("machine show bay1", "machine/1", None),
    "ready": ("ready bay1", "ready/1", "reasons"),
    "reference show": ("reference show 6", "reference/1", None),
    "rule list": ("rule list", "rule-list/1", "rules"),
    "service list": ("service list", "service-list/1", "services"),
    "setup": ("setup --weight 12kg", "setup/1", "cautions"),
    "staff list": ("staff list", "staff-list/1", "staff"),
    "vaporizer list": ("vaporizer list", "vaporizer-list/1", "vaporizers"),
    "vaporizer show": ("vaporizer show iso1", "vaporizer/1", None),
    "verify": ("verify", "verify/1", "findings"),
    "agent use": (
        "agent use --agent isoflurane --dial 2 --flow 1L/min --for 1h",
        "agent-use/1",
        None,
    ),
    "oxygen left": ("oxygen left --size E --gauge 1500psi --flow 2L/min", "oxygen-left/1", None),
}


def test_every_command_with_json_has_its_schema_here() -> None:
    with_json = {
        words
        for words, command in without_store().items()
        if any(param.name == "as_json" for param in command.params)
    }
    assert with_json == SCHEMAS.keys()


@pytest.mark.parametrize("words", SCHEMAS)
def test_json_is_one_object_with_its_schema_and_its_array(say: Say, words: str) -> None:
    line, schema, array = SCHEMAS[words]
    say("case log bay1 --began 8:10 --ran 1h35 --flow 1L/min --dial 2 --reference C-17")
    plain, ran = say(line), say(f"{line} --json")
    assert (ran.code, ran.err) == (plain.code, plain.err)
    content = ran.json
    assert next(iter(content)) == "schema"
    assert content["schema"] == schema
    assert_plain(content)
    if array is not None:
        assert isinstance(content[array], list)
        assert content[array] or words == "verify"


def assert_plain(value: Any, key: str = "") -> None:
    """No floats anywhere; instants are UTC with Z; quantities say their unit in their key."""
    if isinstance(value, dict):
        for name, item in value.items():
            assert name.isascii()
            assert name == name.lower()
            assert_plain(item, name)
    elif isinstance(value, list):
        for item in value:
            assert_plain(item, key)
    else:
        assert value is None or isinstance(value, str | int)
        if key.endswith("_at") and value is not None:
            assert str(value).endswith("Z")


# What is told as saved is saved, and the other way round


SQUEAKS = ("note", "caster squeaks", "--on", "bay1", "--at", "2026-03-06 09:00")


def process(ledger: Path, *arguments: str, **where: Any) -> subprocess.CompletedProcess[bytes]:
    """The program in a process of its own."""
    env = {"PATH": os.environ["PATH"], "HOME": str(ledger.parent), "LOGBOOK_BY": "KO"}
    main = "from logbook.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", main, "--ledger", str(ledger), *arguments],
        env=env | where.pop("env", {}),
        stdin=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        check=False,
        **where,
    )


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a full device exists only on Linux")
def test_a_saving_that_cannot_be_shown_never_says_that_nothing_was_saved(
    say: Say, ledger: Path
) -> None:
    with open("/dev/full", "wb") as full:
        ran = process(ledger, *SQUEAKS, stdout=full)
    assert ran.returncode == 1
    assert ran.stderr.decode().startswith("Saved, but what was saved could not be shown: ")
    assert say("history bay1").out.count("caster squeaks") == 1


def test_a_reader_that_goes_away_is_no_failure(say: Say, ledger: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    ran = process(ledger, *SQUEAKS, stdout=writer)
    os.close(writer)
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert say("history bay1").out.count("caster squeaks") == 1
    reader, writer = os.pipe()
    os.close(reader)
    read = process(ledger, "history", "bay1", stdout=writer)
    os.close(writer)
    assert (read.returncode, read.stderr) == (0, b"")


def test_a_terminal_that_lacks_a_letter_shows_its_number(say: Say, ledger: Path) -> None:
    ran = process(
        ledger,
        *("note", "gr\u00fcne Kappe, \u624b\u8853\u5ba4"),
        env={"PYTHONIOENCODING": "latin-1"},
        stdout=subprocess.PIPE,
    )
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert b"gr\xfcne Kappe, \\u624b\\u8853\\u5ba4" in ran.stdout


def test_text_that_would_command_the_terminal_is_shown_harmless(say: Say) -> None:
    ran = say("note 'red \x1b[31m text\u202e turned\ttab' --on bay1")
    assert ran.code == 0
    assert "red ?[31m text? turned tab" in ran.out
    assert "red ?[31m text? turned tab" in say("history bay1").out


def test_every_list_that_comes_with_the_program_can_be_shown(say: Say) -> None:
    for name in builtin_names():
        ran = say(f"checklist show {name}")
        assert ran.out.count("  why: ") == len(
            say(f"checklist show {name} --json").json["checklist"]["items"]
        )


def test_circuit_and_weight_of_a_logged_case_are_corrected_in_the_words_of_logging(
    say: Say,
) -> None:
    seq = number(say("case log bay1 --began 8:10 --ran 1h --by ko --circuit Pediatric"))
    ran = say(f"correct {seq} --circuit ADULT --weight 53lb --because misread --by ko")
    assert "adult rebreathing, 24.04 kg" in ran.out
    assert "by KO" in ran.out
    change = number(say("absorbent change bay1 --at 7:00"))
    assert (
        "is nothing that this entry tells"
        in say(f"correct {change} --circuit adult --because x").err
    )


@pytest.mark.parametrize(
    ("words", "interval"),
    [("12 months", "P12M"), ("1 Year", "P1Y"), ("2weeks", "P2W"), ("90 days", "P90D")],
)
def test_an_interval_is_read_in_words(say: Say, words: str, interval: str) -> None:
    say(f"service plan bay1 service --every '{words}' --last 2026-01-05")
    assert say("history bay1 --json").json["entries"][-1]["body"]["every"] == interval


def test_the_board_names_the_command_that_tells_the_other_reasons(say: Say) -> None:
    assert say("board").out.endswith("All reasons of a machine: logbook ready MACHINE\n")


def test_flow_and_dial_of_a_logged_case_can_be_corrected(say: Say) -> None:
    seq = number(say("case log bay1 --began 8:10 --ran 1h --flow 1L/min --dial 2"))
    ran = say(f"correct {seq} --stretch 15min 2L/min 3 --flow 0.5L/min --dial 1.5 --because x")
    assert ran.code == 0, ran.err
    assert "15 min 2 L/min dial 3 %" in say("case list").out
    assert say("correct 3 --flow 1L/min --because x").code == 2


def test_a_level_above_what_a_vaporizer_holds_is_recorded_and_said(say: Say) -> None:
    ran = say("agent level iso1 300ml")
    assert ran.code == 3
    assert "fault report iso1 overfilled" in " ".join(ran.out.split())


def test_only_a_verified_output_clears_a_tipped_vaporizer(say: Say) -> None:
    say("fault report iso1 tipped --at 8:00")
    dusted = number(say("service done iso1 dusting --outcome passed --at 9:00"))
    refused = say(f"return-to-service iso1 --evidence {dusted}")
    assert refused.code == 2
    assert "output verification" in refused.err
    done = number(say("service done iso1 'output verification' --outcome passed --at 10:00"))
    assert say(f"return-to-service iso1 --evidence {done}").code == 0


def test_fitting_a_vaporizer_that_is_out_of_service_says_so(say: Say) -> None:
    say("fault report iso1 dropped --at 8:00")
    ran = say("vaporizer fit iso1 bay1 --at 9:00")
    assert "NOT TO BE USED: iso1 out of service since 2026-03-06 08:00: dropped" in ran.out
    assert "Leak-test" not in ran.out


def test_a_case_that_fills_the_absorbent_says_so_at_once(say: Say) -> None:
    say("absorbent change bay1 --at '2026-03-05 07:00'")
    assert "Now" not in say("case log bay1 --began '2026-03-05 08:00' --ran 7h").out
    ran = say("case log bay1 --began 8:10 --ran 2h")
    assert "ABSORBENT PAST ITS LIMIT: bay1, 9 of 8 h in use at the end of this case" in ran.out
