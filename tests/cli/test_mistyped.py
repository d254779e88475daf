"""A mistyped word leads on to the line that does it; what a hand writes apart is read as one."""

import shlex
from collections.abc import Callable
from itertools import chain

import pytest

from logbook.cli.hand import joined
from logbook.cli.mistyped import ACTS, MAIN, OPTIONS
from tests.cli.commandtree import leaves

MISTYPES = {
    "chekc bay1": "logbook check bay1",
    "chck bay1": "logbook check bay1",
    "bord": "logbook board",
    "redy bay1": "logbook ready bay1",
    "du": "logbook due",
    "setpu --weight 12kg": "logbook setup --weight",
    "oxigen read bay1": "logbook oxygen read bay1",
    "vaporiser list": "logbook vaporizer",
    "machines": "logbook machine",
    "histroy bay1": "logbook history bay1",
    "level iso1 200ml": "logbook agent level iso1",
    "fill iso1": "logbook agent fill iso1",
    "log bay1": "logbook case log bay1",
    "begin bay1": "logbook case begin bay1",
    "stop bay1": "logbook case end bay1",
    "tipped iso1": "logbook fault report iso1 tipped",
    "undo": "logbook correct",
    "patient 12kg": "logbook setup --weight",
    "tank bay1": "logbook oxygen change bay1",
    "weigh dental": "logbook charcoal weigh dental",
    "leak bay1": "logbook check bay1",
    "users": "logbook staff list",
    "limits": "logbook rule list",
    "case strat bay1": "logbook case begin bay1",
    "case lgo bay1": "logbook case log bay1",
    "absorbent chnage bay1": "logbook absorbent change bay1",
    "agent levle iso1 200ml": "logbook agent level iso1",
    "case log bay1 --start 8:10 --ran 1h": "write --began",
    "case log bay1 --began 8:10 --tech KO": "write --by",
    "case log bay1 --began 8:10 --o2 1L/min": "write --flow",
    "case log bay1 --began 8:10 --wieght 12kg": "write --weight",
    "case log bay1 --began 8:10 --duration 1h": "write --ran",
    "agent fill iso1 --amount 100ml": "write --added",
    "fault report bay1 leak --reason hiss": "write --detail",
    "history bay1 --kind case": "known are --since",
    "check": "logbook check bay1",
    "case log": "logbook case log bay1",
    "agent fill iso1 100ml": "logbook agent fill iso1 --level",
}
"""What a hand gets wrong, and the words that lead it on."""


MORE = {
    "print": "logbook sheet board",
    "weekly": "logbook due",
    "who": "logbook staff list",
    "return bay2": "logbook return-to-service iso1",
    "withdraw 11": "logbook correct 812",
    "bay1": "logbook ready bay1, or: logbook history bay1",
    "fault bay1 broken": "logbook fault report iso1 tipped",
    "oxygen bay1 1800psi": "logbook oxygen read bay1",
    "absorbent bay1": "logbook absorbent change bay1",
    "case list bay1": "write --machine bay1",
    "export cases": "logbook case list",
    "check bay 1": "logbook check bay1",
    "case log bay1 --began 8:10 --end 9:45": "write --ended",
}
"""What came to a second pair of hands."""


@pytest.mark.parametrize("line", MISTYPES | MORE)
def test_a_mistyped_line_leads_on(bay1: Callable, line: str) -> None:
    ran = bay1(*shlex.split(line))
    assert (ran.code, ran.out) == (2, "")
    assert (MISTYPES | MORE)[line] in ran.err
    assert len(ran.err.strip().splitlines()) == 1


def test_38_mistypes_are_held() -> None:
    assert len(MISTYPES) == 38


def test_a_word_like_nothing_names_the_list_of_commands(run_logbook: Callable) -> None:
    assert "there is no command xyzzy; logbook --help lists them." in run_logbook("xyzzy").err


def test_every_act_and_option_that_is_proposed_exists() -> None:
    assert {*chain(*ACTS.values()), *MAIN.values()} <= set(leaves())
    options = [
        {name for one in command.params for name in one.opts} for command in leaves().values()
    ]
    assert set(chain(*OPTIONS.values())) <= set(chain(*options))
    for name, meant in OPTIONS.items():
        assert any(name not in known and set(meant) & known for known in options), name


@pytest.mark.parametrize("word", ["today", "status"])
def test_words_of_the_day_lead_to_the_board(bay1: Callable, word: str) -> None:
    assert bay1(word).out == bay1("board").out != ""


def test_help_is_a_word_too(run_logbook: Callable) -> None:
    assert run_logbook("help").out == run_logbook("--help").out
    assert run_logbook("help", "case", "log").out == run_logbook("case", "log", "--help").out
    assert "logbook case log" in run_logbook("help", "case", "lgo").err


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("setup --weight 24 kg", ["setup", "--weight", "24kg"]),
        ("setup --weight 24 kilos", ["setup", "--weight", "24kilos"]),
        ("--flow 2 l/m --dial 2", ["--flow", "2l/m", "--dial", "2"]),
        ("agent level iso1 180 ml", ["agent", "level", "iso1", "180ml"]),
        (
            "oxygen read bay1 --cylinder 1,800 psi",
            ["oxygen", "read", "bay1", "--cylinder", "1,800psi"],
        ),
        ("--flow 1 L/min --dial 2 %", ["--flow", "1L/min", "--dial", "2%"]),
        ("--at mon 13:10", ["--at", "mon 13:10"]),
        ("--at yesterday 1310 --by KO", ["--at", "yesterday 1310", "--by", "KO"]),
        ("--at 2026-03-02 7:10", ["--at", "2026-03-02 7:10"]),
        ("--at 8:10 am", ["--at", "8:10am"]),
        ("--at mon 8 pm", ["--at", "mon", "8pm"]),
        ("--stretch 15min 2L/min 3 --flow", ["--stretch", "15min", "2L/min", "3", "--flow"]),
        ("history bay1 --since 2026-03-02", ["history", "bay1", "--since", "2026-03-02"]),
        ("service done iso1 service", ["service", "done", "iso1", "service"]),
    ],
)
def test_what_a_hand_writes_in_two_words_is_read_as_one(typed: str, words: list[str]) -> None:
    assert joined(shlex.split(typed)) == words


def test_a_weight_and_a_time_in_two_words_are_saved_as_meant(bay1: Callable) -> None:
    line = "case log bay1 --began yesterday 8:10 am --ran 1h --weight 24 kg --circuit bain"
    told = bay1(*line.split()).out
    assert "2026-03-05" in told
    assert "08:10" in told
    assert "non-rebreathing, 24 kg" in told


@pytest.mark.parametrize(
    ("word", "circuit"),
    [
        ("F", "adult rebreathing"),
        ("Bain", "non-rebreathing"),
        ("NRB", "non-rebreathing"),
        ("circle", "adult rebreathing"),
        ("rebreathing", "adult rebreathing"),
        ("Adult", "adult rebreathing"),
        ("F circuit", "adult rebreathing"),
        ("adult rebreathing", "adult rebreathing"),
        ("peds", "pediatric rebreathing"),
        ("Jackson Rees", "non-rebreathing"),
    ],
)
def test_words_of_the_trade_name_circuits_at_every_door(
    bay1: Callable, word: str, circuit: str
) -> None:
    saved = bay1("case", "log", "bay1", "--began", "8:10", "--ran", "1h", "--circuit", word)
    assert f", {circuit}, " in " ".join(saved.out.split())
    told = bay1("setup", "--weight", "5kg", "--circuit", word, "--json").json["circuit"]
    assert circuit.startswith(told)


def test_a_level_is_told_alike_with_a_reading_and_a_fill(bay1: Callable) -> None:
    for line in ("agent level iso1 200ml", "agent level iso1 --level 200ml"):
        ran = bay1(*line.split(), "--at", "8:00" if "--level" in line else "7:00")
        assert "iso1: about 200 mL left" in ran.out
    assert "say it like: logbook agent level iso1 180ml" in bay1("agent", "level", "iso1").err
    assert (
        "say it like: logbook agent level iso1 180ml"
        in bay1("agent", "level", "iso1", "9ml", "--level", "9ml").err
    )


def test_an_amount_alone_of_a_fill_is_asked_about(
    bay1: Callable, monkeypatch: pytest.MonkeyPatch
) -> None:
    unasked = bay1("agent", "fill", "iso1", "100ml")
    assert unasked.code == 2
    assert (
        "agent fill iso1 --added 100ml, or: logbook agent fill iso1 --level 100ml." in unasked.err
    )
    for more in ((), ("--added", "100ml", "100ml")):
        assert "say --added 100ml" in bay1("agent", "fill", "iso1", *more).err
    monkeypatch.setattr("logbook.cli.desk.has_terminal", lambda: True)
    level = bay1("agent", "fill", "iso1", "100ml", stdin="2\n")
    assert "Is 100ml 1 what was poured in, or 2 the level after it?" in level.out
    assert "iso1: about 100 mL left" in level.out
    added = bay1("agent", "fill", "iso1", "100ml", stdin="1\n")
    assert "iso1: about 200 mL left" in added.out


def test_the_words_on_the_screens_are_explained(run_logbook: Callable) -> None:
    told = run_logbook("help", "words")
    assert told.code == 0
    for word in ("NO RECORD", "CANNOT TELL", "head", "checkpoint", "unit", "non-rebreathing"):
        assert f"\n{word}: " in told.out, word
    assert "logbook help words" in " ".join(run_logbook("--help").out.split())


def test_a_question_at_the_end_of_a_sentence_has_no_dot(bay1: Callable) -> None:
    ran = bay1("oxygen", "read", "bay1", "--pipeline", "125", "bar")
    assert ran.err.endswith("did you mean the cylinder?\n")


def test_what_is_out_of_bounds_is_told_as_a_hand_writes_it(bay1: Callable) -> None:
    line = "case log bay1 --began 8:10 --ran 1h --weight 240kg"
    assert "the weight is 240 kg, but must lie between 10 g and 200 kg." in bay1(*line.split()).err


def test_a_gauge_in_bar_is_told_no_finer_than_a_gauge(bay1: Callable) -> None:
    saved = bay1("oxygen", "read", "bay1", "--cylinder", "124bar", "--pipeline", "4bar").out
    assert "cylinder 1798 psi, pipeline 58 psi" in saved


def test_a_cylinders_gauge_typed_at_the_pipeline_is_asked_about(bay1: Callable) -> None:
    ran = bay1("oxygen", "read", "bay1", "--pipeline", "125", "bar")
    assert (ran.code, ran.out) == (2, "")
    assert "125bar is more than any pipeline has; did you mean the cylinder?" in ran.err
