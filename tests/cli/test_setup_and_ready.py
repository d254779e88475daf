"""The numbers before connecting, the sums at the machine, and the verdict."""

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from logbook.checklists import builtin

PASSING = {"tick": "passed", "hold": {"held_s": "15"}}
VALUES = {
    "cylinder-pressure": "1500 psi",
    "pipeline-pressure": "50 psi",
    "breathing-system-leak": "120 mL/min",
}


def answers(tmp_path: Path, **other: object) -> str:
    """A file of answers to the daily list in which all passes but what is named."""
    told: dict[str, object] = {}
    for item in builtin("daily").items:
        if item.key in VALUES:
            told[item.key] = {"value": VALUES[item.key]}
        elif item.fits in ("charcoal", "coaxial"):
            told[item.key] = "not fitted"
        elif item.kind == "choice":
            told[item.key] = {"value": item.passing[0]}
        elif item.kind == "number":
            told[item.key] = {"value": "3"}
        else:
            told[item.key] = PASSING[item.kind]
    told |= {key.replace("_", "-"): value for key, value in other.items()}
    path = tmp_path / "answers.json"
    path.write_text(json.dumps(told))
    return str(path)


@pytest.fixture
def kept(bay1: Callable, tmp_path: Path) -> Callable:
    """bay1 with everything recorded that a verdict asks for, as of Friday 16:00."""
    for line in (
        ("absorbent", "change", "bay1", "--at", "2026-03-05 07:30"),
        ("agent", "fill", "iso1", "--level", "240ml", "--at", "2026-03-06 07:00"),
        ("oxygen", "change", "bay1", "--size", "E", "--cylinder", "1900psi", "--at", "7:00"),
        (
            "service",
            "plan",
            "iso1",
            "output verification",
            "--every",
            "P12M",
            "--last",
            "2025-10-01",
        ),
        ("service", "plan", "bay1", "service", "--every", "P12M", "--last", "2025-10-01"),
        ("check", "bay1", "--answers", answers(tmp_path), "--at", "7:10"),
    ):
        ran = bay1(*line)
        assert ran.code == 0, ran.err + ran.out
    return bay1


@pytest.mark.parametrize(
    ("weight", "circuit", "bag_l", "start", "keep_up"),
    [
        ("1.8kg", "non-rebreathing", "0.5", ["0.5", "0.5"], ["0.5", "0.5"]),
        ("6.5kg", "pediatric", "1", ["1.3", "1.95"], ["0.5", "0.5"]),
        ("12kg", "adult", "1", ["2.4", "3.6"], ["0.5", "0.6"]),
        ("62kg", "adult", "5", ["5", "5"], ["1.55", "3.1"]),
    ],
)
def test_a_weight_gives_circuit_bag_and_flows(
    run_logbook: Callable, weight: str, circuit: str, bag_l: str, start: list, keep_up: list
) -> None:
    told = run_logbook("setup", "--weight", weight, "--json").json
    assert told["schema"] == "setup/1"
    assert (told["circuit"], told["bag_l"]) == (circuit, bag_l)
    assert (told["flow_start_l_min"], told["flow_keep_up_l_min"]) == (start, keep_up)


def test_the_cautions_belong_to_the_set_up(run_logbook: Callable) -> None:
    small = run_logbook("setup", "--weight", "1.8kg", "--json").json["cautions"]
    large = run_logbook("setup", "--weight", "12kg", "--json").json["cautions"]
    assert any("flush" in line for line in small)
    assert not any("flush" in line for line in large)
    assert any("10 to 15 minutes" in line for line in large)
    assert all(any("Pop-off valve open" in line for line in lines) for lines in (small, large))


def test_agent_and_oxygen_are_counted_with_the_highest_flow_of_each_stretch(
    run_logbook: Callable,
) -> None:
    told = run_logbook("setup", "--weight", "12kg", "--for", "60min", "--json").json
    # 15 min at 3.6 L/min and 45 min at 0.6 L/min are 81 L; 2 on 98 parts of it over 195 is 8.48 mL.
    assert (told["oxygen_l"], told["agent_ml"]) == ("81", "8.5")


def test_the_first_minutes_end_at_the_clinics_limit_and_the_bound_is_named(
    bay1: Callable,
) -> None:
    bay1("rule", "set", "start-flow", "4", "--because", "our flowmeters end there")
    for line in (("setup", "--weight", "24kg"), ("setup", "--weight", "24kg", "--machine", "bay1")):
        assert "at first    4 L/min (limit start-flow; 7.2 wanted)" in bay1(*line).out
    bay1("rule", "set", "start-flow", "0", "--because", "by weight alone")
    assert "at first    4.8 to 7.2 L/min\n" in bay1("setup", "--weight", "24kg").out


def test_without_a_ledger_the_first_minutes_end_at_the_default(
    run_logbook: Callable, ledger: Path
) -> None:
    ledger.unlink()
    assert "4.8 to 5 L/min (limit start-flow" in run_logbook("setup", "--weight", "24kg").out


def test_no_bound_of_what_can_be_typed_is_shown_as_a_flowmeter(run_logbook: Callable) -> None:
    for line in (("--weight", "100kg"), ("--weight", "100kg", "--circuit", "non-rebreathing")):
        ran = run_logbook("setup", *line)
        assert ran.code == 0
        assert "flowmeter" not in ran.out
    # 101 kg at 200 mL/kg/min is more than is counted with: refused, never counted with less.
    ran = run_logbook("setup", "--weight", "101kg", "--circuit", "non-rebreathing")
    assert ran.code == 2
    assert "take a rebreathing circuit" in ran.err


@pytest.mark.parametrize(
    ("weight", "shown"),
    [
        ("2.801kg", "at least 0.57 L/min"),
        ("2.8kg", "at least 0.56 L/min"),
        ("2.799kg", "at least 0.56 L/min"),
    ],
)
def test_a_least_flow_is_never_printed_below_what_the_rule_asks(
    run_logbook: Callable, weight: str, shown: str
) -> None:
    assert shown in run_logbook("setup", "--weight", weight, "--circuit", "non-rebreathing").out


def test_a_flowmeters_top_is_never_printed_above_it(bay1: Callable) -> None:
    bay1("machine", "change", "bay1", "--flowmeter-max", "999mL/min", "--because", "seen")
    shown = bay1("setup", "--weight", "12kg", "--machine", "bay1").out
    assert "at first    0.99 L/min (flowmeter's top; 3.6 wanted)" in shown


def test_a_flowmeter_that_cannot_feed_a_circuit_is_the_first_caution(bay1: Callable) -> None:
    bay1("machine", "change", "bay1", "--flowmeter-max", "0.4L/min", "--because", "seen")
    told = bay1("setup", "--weight", "1.8kg", "--machine", "bay1", "--json").json
    assert "cannot give enough flow" in told["cautions"][0]


@pytest.mark.parametrize(
    "line",
    [
        ("setup", "--weight", "24kg", "--species", "cat"),
        ("setup", "--weight", "0kg"),
        ("setup", "--weight", "9999kg"),
        ("setup", "--weight", "12"),
        ("setup", "--weight", "12kg", "--machine", "bay7"),
        ("setup", "--weight", "12kg", "--for", "99h"),
        ("ready", "bay7"),
        ("ready", "bay1", "--weight", "nan"),
        ("oxygen", "left", "--gauge", "500psi", "--flow", "2L/min"),
        ("oxygen", "left", "--size", "E", "--gauge", "99999psi", "--flow", "2L/min"),
        ("oxygen", "left", "--full", "660L", "--gauge", "500psi", "--flow", "2L/min"),
        ("oxygen", "left", "--factor", "0", "--gauge", "500psi", "--flow", "2L/min"),
        ("agent", "use", "--agent", "isoflurane", "--dial", "2", "--flow", "0L/min", "--for", "1h"),
    ],
)
def test_absurd_inputs_are_refused_in_one_sentence(bay1: Callable, line: tuple) -> None:
    ran = bay1(*line)
    assert ran.code == 2
    assert ran.out == ""
    assert len(ran.err.strip().splitlines()) == 1


def test_a_machine_with_everything_recorded_is_ready(kept: Callable) -> None:
    ran = kept("ready", "bay1", "--weight", "12kg", "--for", "90min", "--json")
    assert ran.json["schema"] == "ready/1"
    stops = [one for one in ran.json["reasons"] if one["weight"] in ("stops", "unknown")]
    assert stops == []
    assert ran.json["verdict"] == "ready, with remarks"  # The weekly alarm has no record yet.
    assert ran.code == 0


def test_no_verdict_says_safe(kept: Callable) -> None:
    shown = kept("ready", "bay1").out + kept("board").out + kept("setup", "--weight", "12kg").out
    assert "safe" not in shown.lower()


def test_yesterdays_check_is_no_record_for_today(kept: Callable, clock: Callable) -> None:
    clock(datetime(2026, 3, 7, 15, 0, tzinfo=UTC))
    ran = kept("ready", "bay1", "--json")
    assert ran.json["verdict"] == "cannot tell: no record of today's check"
    assert ran.code == 3


@pytest.mark.parametrize(
    ("line", "about"),
    [
        (("fault", "report", "iso1", "tipped"), "fault"),
        (("fault", "report", "bay1", "leak", "--out-of-service"), "fault"),
        (("case", "begin", "bay1", "--pop-off", "open"), "use"),
        (("agent", "level", "iso1", "2ml"), "agent"),
        (("rule", "set", "absorbent-hours", "1", "--because", "test"), "absorbent"),
        (("service", "done", "iso1", "output verification", "--outcome", "failed"), "fault"),
        (("oxygen", "read", "bay1", "--pipeline", "20psi"), "oxygen"),
    ],
)
def test_one_thing_against_it_makes_a_machine_not_ready(
    kept: Callable, line: tuple, about: str
) -> None:
    assert kept(*line).saved
    ran = kept("ready", "bay1", "--weight", "12kg", "--for", "90min", "--json")
    assert ran.json["verdict"] == "not ready"
    assert ran.json["reasons"][0]["weight"] == "stops"
    assert about in [one["about"] for one in ran.json["reasons"] if one["weight"] == "stops"]
    assert ran.code == 3


def test_a_case_on_a_machine_with_all_recorded_asks_for_nothing(kept: Callable) -> None:
    begun = kept("case", "begin", "bay1", "--circuit", "adult", "--pop-off", "open")
    assert (begun.code, begun.out.splitlines()[0][:13]) == (0, "Saved entry 1"), begun.out


def test_a_pop_off_valve_last_recorded_shut_stops_the_machine(kept: Callable) -> None:
    kept("case", "begin", "bay1", "--pop-off", "shut", "--at", "15:00")
    kept("case", "end", "bay1", "--at", "15:30")
    reasons = kept("ready", "bay1", "--json").json["reasons"]
    assert (reasons[0]["weight"], reasons[0]["about"]) == ("stops", "pop-off valve")


def test_oxygen_that_does_not_last_the_case_stops_it(kept: Callable, tmp_path: Path) -> None:
    # Without a pipeline the cylinder alone counts: 1500 psi at the check is 364 L above reserve.
    without = answers(tmp_path, pipeline_pressure="not fitted")
    kept("oxygen", "read", "bay1", "--pipeline", "50psi", "--at", "2026-03-05 18:00")
    kept("correct", "11", "--withdraw", "--because", "walked again")
    assert kept("check", "bay1", "--answers", without, "--at", "8:00").code == 0

    def oxygen(weight: str, planned: str) -> list[str]:
        asked = kept("ready", "bay1", "--weight", weight, "--for", planned, "--json")
        return [one["weight"] for one in asked.json["reasons"] if one["about"] == "oxygen"]

    # 12 kg for 90 min is 99 L; 62 kg for 3 h is 790 L.
    assert oxygen("12kg", "90min") == ["fine"]
    assert oxygen("62kg", "3h") == ["stops"]


def test_the_board_leads_with_the_verdict_of_every_machine(kept: Callable) -> None:
    kept("machine", "add", "bay2")
    ran = kept("board")
    assert "bay1: READY, WITH REMARKS" in ran.out
    assert "bay2: CANNOT TELL" in ran.out
    assert ran.code == 3


def test_use_far_from_what_dial_and_flow_say_becomes_a_remark_after_three_fills(
    kept: Callable,
) -> None:
    # Each hour at 1 L/min and 2 % uses 6.2 mL, and each time 12 mL are gone.
    for hour, level in ((8, "228ml"), (10, "216ml"), (12, "204ml")):
        kept(
            *("case", "log", "bay1", "--began", f"{hour}:00", "--ran", "1h"),
            *("--flow", "1L/min", "--dial", "2", "--circuit", "adult"),
        )
        before = kept("ready", "bay1").out
        assert "output drift" not in before
        kept("agent", "level", "iso1", level, "--at", f"{hour + 1}:30")
    assert "output drift" in kept("ready", "bay1").out
    assert "output drift" in kept("vaporizer", "show", "iso1").out


def test_a_leak_test_is_owed_after_anything_that_opened_the_machine(
    kept: Callable, tmp_path: Path
) -> None:
    kept("absorbent", "change", "bay1", "--at", "8:00")
    assert kept("ready", "bay1", "--json").json["verdict"] == (
        "cannot tell: no record of a leak test since the absorbent change"
    )
    assert kept("check", "bay1", "--answers", answers(tmp_path), "--at", "8:30").code == 0
    assert kept("ready", "bay1").code == 0


def test_a_low_reserve_cylinder_is_remarked_on_beside_a_good_pipeline(kept: Callable) -> None:
    kept("oxygen", "read", "bay1", "--cylinder", "150psi", "--at", "9:00")
    said = "remark: reserve cylinder 150 psi, 2026-03-06 09:00, recorded 7 h afterwards, US size E"
    assert said in " ".join(kept("ready", "bay1").out.split())


def test_a_vaporizer_that_reads_above_what_it_holds_stops_its_machine(kept: Callable) -> None:
    kept("agent", "level", "iso1", "300ml")
    ran = kept("ready", "bay1")
    assert ran.code == 3
    assert "more than it holds" in ran.out


def test_each_vaporizer_is_judged_by_its_own_agent_at_its_own_planning_dial(kept: Callable) -> None:
    kept("vaporizer", "add", "sevo1", "--agent", "sevoflurane", "--fit", "bay1")
    kept("agent", "level", "sevo1", "100ml", "--at", "8:00")
    kept("agent", "level", "iso1", "100ml", "--at", "8:00")

    def agent(*options: str) -> dict[str, str]:
        asked = kept("ready", "bay1", "--weight", "40kg", "--for", "8h", *options, "--json")
        found = [one for one in asked.json["reasons"] if one["about"] == "agent"]
        return {one["sentence"].split(" in ")[1][:4]: one["weight"] for one in found}

    # 15 min at 5 L/min and 465 at 2 are 1005 L: 105.2 mL of isoflurane at 2 %, 169 of sevoflurane.
    assert agent() == {"iso1": "stops", "sevo": "stops"}
    kept("agent", "level", "iso1", "106ml", "--at", "8:01")
    assert agent() == {"iso1": "fine", "sevo": "stops"}
    assert agent("--agent", "isoflurane") == {"iso1": "fine", "sevo": "fine"}
    assert agent("--agent", "sevoflurane") == {"iso1": "fine", "sevo": "stops"}
    assert agent("--dial", "1") == {"iso1": "fine", "sevo": "fine"}
    assert agent("--flow", "0.5L/min") == {"iso1": "fine", "sevo": "fine"}
    assert agent("--circuit", "nrb") == {"iso1": "stops", "sevo": "stops"}


def test_an_inhaled_case_needs_a_vaporizer_and_one_of_the_agent_that_is_named(
    kept: Callable,
) -> None:
    case = ("--weight", "12kg", "--for", "30min")
    named = kept("ready", "bay1", *case, "--agent", "sevoflurane")
    assert named.code == 3
    assert "no sevoflurane vaporizer stands on it" in named.out
    kept("vaporizer", "remove", "iso1", "--because", "sent for service")
    told = " ".join(kept("ready", "bay1").out.split())
    assert "no vaporizer stands on it: not ready for an inhaled case" in told
    planned = kept("ready", "bay1", *case, "--json").json
    assert planned["verdict"] == "not ready"


def test_what_counts_for_a_patient_needs_a_weight(kept: Callable) -> None:
    for option in (("--circuit", "nrb"), ("--dial", "2"), ("--flow", "1L/min")):
        ran = kept("ready", "bay1", *option)
        assert (ran.code, ran.out) == (2, "")
        assert "give --weight" in ran.err


def test_a_flow_that_is_told_is_counted_with_throughout(run_logbook: Callable) -> None:
    told = run_logbook("setup", "--weight", "12kg", "--flow", "1L/min", "--json").json
    # 60 L; 2 on 98 parts of it over 195 is 6.28 mL.
    assert (told["oxygen_l"], told["agent_ml"]) == ("60", "6.3")
    assert "for 1 h (1 L/min): 60 L oxygen, 6.3 mL isoflurane counted at 2 %" in " ".join(
        run_logbook("setup", "--weight", "12kg", "--flow", "1L/min").out.split()
    )


@pytest.mark.parametrize(
    ("psi", "fits"), [("45", True), ("44.9", False), ("55", True), ("55.1", False), ("80", False)]
)
def test_a_pipeline_too_high_is_a_finding_as_one_too_low_is(
    kept: Callable, psi: str, fits: bool
) -> None:
    said = kept("oxygen", "read", "bay1", "--pipeline", f"{psi}psi").out
    assert ("The pipeline is allowed 45 to 55 psi: find out why." in said) is not fits
    reasons = kept("ready", "bay1", "--json").json["reasons"]
    (found,) = [one for one in reasons if "pipeline" in one["sentence"]]
    assert found["weight"] == ("fine" if fits else "stops")
    assert ("allowed 45 to 55 psi" in found["sentence"]) is not fits
