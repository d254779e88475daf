"""The lists that come with the program, a clinic's own lists, and what answers to them mean."""

import subprocess
import sys
from decimal import Decimal
from importlib.resources import files
from pathlib import Path

import pytest

from logbook.answers.checking import ToWalk, check_body
from logbook.checklists import (
    Answer,
    Checklist,
    Item,
    Judged,
    builtin,
    builtin_names,
    judge,
    parse,
)
from logbook.checklists.loading import check_text, read
from logbook.checklists.model import When
from logbook.checklists.profile import Profile
from logbook.checklists.reading import LONGEST_TEXT, builtin_text
from logbook.entries.check import Check
from logbook.errors import Faults, InputError
from logbook.limits import LIMITS

VALUES = {name: limit.value for name, limit in LIMITS.items()}
UNITS = {name: limit.unit for name, limit in LIMITS.items()}
LISTS = [builtin(name) for name in builtin_names()]

ITEM = """
[[group.item]]
key = "look"
title = "Look"
kind = "tick"
stops = true
how = "Look at it."
why = "It may be broken."
source = "our own list"
confidence = "set by the clinic"
"""
OWN = f"""
name = "own"
version = 3
title = "Our own list"
rhythm = "P7D"

[[group]]
title = "All of it"
{ITEM}"""


def item(key: str, name: str = "daily") -> Item:
    return next(one for one in builtin(name).items if one.key == key)


def answered(key: str, name: str = "daily", **said: object) -> Judged:
    return judge(item(key, name), Answer(**said), VALUES)  # type: ignore[arg-type]


def with_items(count: int, field: str = "") -> str:
    """A list of one group with so many items; ``field`` is added to the last one."""
    more = "".join(ITEM.replace('"look"', f'"look-{n}"') for n in range(2, count + 1))
    return OWN + more + field


def measured(rule: str, kind: str = "number") -> str:
    """A list of one item that is measured, with its rule."""
    return OWN.replace('kind = "tick"', f'kind = "{kind}"\n{rule}')


# The lists that come with the program.


def test_every_list_in_the_folder_is_offered_under_its_own_name() -> None:
    in_folder = {
        entry.name.removesuffix(".toml")
        for entry in files("logbook.checklists").iterdir()
        if entry.name.endswith(".toml")
    }
    assert set(builtin_names()) == in_folder
    assert [one.name for one in LISTS] == list(builtin_names())


@pytest.mark.parametrize("name", builtin_names())
def test_every_limit_of_a_list_exists_and_counts_in_the_unit_of_its_item(name: str) -> None:
    assert check_text(builtin_text(name), UNITS) == builtin(name)


def test_the_rhythms_are_daily_before_each_case_and_weekly() -> None:
    assert {one.name: one.rhythm for one in LISTS} == {
        "daily": "P1D",
        "before-case": None,
        "oxygen-failure-alarm": "P7D",
    }


@pytest.mark.parametrize("name", ["daily", "before-case"])
def test_the_last_item_confirms_the_pop_off_valve_open_and_stops_the_machine(name: str) -> None:
    last = builtin(name).items[-1]
    assert (last.key, last.kind, last.stops, last.fits) == ("pop-off-open", "tick", True, None)


def test_the_daily_list_follows_the_gas_path() -> None:
    on_the_way = [
        "backup-ventilation",
        "flowmeters",
        "pipeline-pressure",
        "cylinder-pressure",
        "vaporizer-level",
        "low-pressure-leak",
        "one-way-valves",
        "absorbent-colour",
        "scavenging",
        "monitors",
        "safety-relief",
        "breathing-system-leak",
        "pop-off-open",
    ]
    keys = [one.key for one in builtin("daily").items]
    assert [key for key in keys if key in on_the_way] == on_the_way


def test_what_is_opened_on_the_vaporizer_comes_before_its_leak_test() -> None:
    keys = [one.key for one in builtin("daily").items]
    assert keys.index("vaporizer-level") < keys.index("low-pressure-leak")


@pytest.mark.parametrize("name", ["daily", "before-case"])
def test_what_is_opened_on_the_breathing_system_comes_before_its_leak_test(name: str) -> None:
    keys = [one.key for one in builtin(name).items]
    touched = {"one-way-valves", "inner-tube", "bag-and-hoses", "absorbent-feel"} & set(keys)
    assert len(touched) >= 3
    assert max(map(keys.index, touched)) < keys.index("breathing-system-leak")


def test_what_is_timed_or_measured_comes_last_in_its_group_of_the_daily_list() -> None:
    """But for opening the valve, which ends every list with a pressure test."""
    *items, _ = builtin("daily").items
    for group in dict.fromkeys(one.group for one in items):
        kinds = [one.kind in ("number", "hold") for one in items if one.group == group]
        # Raising the pressure to the relief valve is a tick between measurements.
        ticks_after = [at for at, measured in enumerate(kinds) if not measured and any(kinds[:at])]
        named = [[one for one in items if one.group == group][at].key for at in ticks_after]
        assert named in ([], ["safety-relief"]), group


EARLIER = [("daily", 1), ("before-case", 1), ("oxygen-failure-alarm", 1)]


@pytest.mark.parametrize(("name", "version"), EARLIER)
def test_an_earlier_version_stays_readable_as_it_was_asked(name: str, version: int) -> None:
    earlier = check_text(builtin_text(name, version), UNITS)
    assert (earlier.name, earlier.version) == (name, version)
    assert version < builtin(name).version
    assert builtin_text(name, builtin(name).version) == builtin_text(name)


def test_every_earlier_version_is_kept() -> None:
    folder = files("logbook.checklists").joinpath("earlier")
    kept = {one.name for one in folder.iterdir()}
    versions = {(one.name, n) for one in LISTS for n in range(1, one.version)}
    assert kept == {f"{name}-{version}.toml" for name, version in versions}
    with pytest.raises(InputError, match="version 9 of the list daily is not kept"):
        builtin_text("daily", 9)


@pytest.mark.parametrize("checklist", LISTS, ids=builtin_names())
def test_each_group_opens_with_an_item_that_stops_the_machine(checklist: Checklist) -> None:
    first = {one.group: one for one in reversed(checklist.items)}
    assert [one.key for one in first.values() if not one.stops] == []


@pytest.mark.parametrize("checklist", LISTS, ids=builtin_names())
def test_common_practice_is_never_passed_off_as_a_source(checklist: Checklist) -> None:
    for one in checklist.items:
        practice = one.source.startswith("common practice")
        assert not practice or one.confidence in ("common practice, no source", "weak"), one.key


def test_an_unknown_list_is_refused_with_the_names_of_the_known_ones() -> None:
    with pytest.raises(InputError, match="no list weekly; known are daily, before-case"):
        builtin("weekly")


def test_the_lists_load_without_the_heavy_packages() -> None:
    program = (
        "import sys; from logbook.checklists import builtin; builtin('daily');"
        "print(sorted({'pydantic', 'sqlalchemy', 'alembic', 'dateutil'} & set(sys.modules)))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert ran.stdout.strip() == "[]"


# A clinic's own list.


def test_a_list_reads_back_what_its_text_says() -> None:
    one = parse(OWN)
    assert (one.name, one.version, one.title, one.rhythm) == ("own", 3, "Our own list", "P7D")
    assert one.items == (
        Item(
            key="look",
            group="All of it",
            title="Look",
            kind="tick",
            how="Look at it.",
            why="It may be broken.",
            source="our own list",
            confidence="set by the clinic",
            stops=True,
        ),
    )


def test_a_list_without_rhythm_is_walked_before_each_case() -> None:
    assert parse(OWN.replace('rhythm = "P7D"', "")).rhythm is None


def test_a_file_gives_its_text_and_its_list(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(OWN, "utf-8")
    assert read(path, UNITS) == (OWN, parse(OWN))


def test_a_file_is_held_against_the_limits_that_exist(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(measured('unit = "psi"\nat_least = "cylinder-lwo"'), "utf-8")
    with pytest.raises(
        InputError, match=r"at_least is cylinder-lwo; known limits are .*, charcoal-gain"
    ):
        read(path, UNITS)


def test_the_mark_that_some_editors_put_first_is_no_part_of_the_text(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(OWN, "utf-8-sig")
    assert read(path, UNITS)[0] == OWN


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe", "not UTF-8"),
        (b"#" * (LONGEST_TEXT + 1), "more than 200000 characters"),
        (b"#" * (4 * LONGEST_TEXT + 1), "too large"),
    ],
)
def test_a_file_that_is_no_list_is_refused(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "own.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=said):
        read(path, UNITS)


def test_a_file_that_is_not_there_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"absent\.toml cannot be read: No such file"):
        read(tmp_path / "absent.toml", UNITS)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('name = "own"', 'name = "Own List"', "in the list, the field name is 'Own List'"),
        ("version = 3", "version = 0", "in the list, the field version is 0"),
        ("version = 3", "version = true", "in the list, the field version is True"),
        ("version = 3", "", "in the list, the field version is missing; write a whole"),
        ('"P7D"', '"weekly"', "in the list, the field rhythm is 'weekly'"),
        ('"P7D"', '"P0D"', "in the list, the field rhythm is 'P0D'"),
        (
            '"P7D"',
            '"P7D"\ncolour = "red"',
            "field colour is unknown; known are name, version",
        ),
        ('"Our own list"', '""', "in the list, the field title is ''; write one line"),
        ('title = "All of it"', "", "in group 1, the field title is missing; write one line"),
        ('key = "look"', "", "in item number 1 of group 1, the field key is missing"),
        (
            'key = "look"',
            'key = "Ventil prüfen"',
            r"item Ventil prüfen, the field key is 'Ventil pr\\xfcfen'",
        ),
        ('key = "look"', 'key = "look\\n"', r"item look, the field key is 'look\\n'"),
        ('kind = "tick"', 'kind = "guess"', "in item look, the field kind is 'guess'"),
        (
            'kind = "tick"',
            'kind = "tick"\nunit = "h"',
            "unit is unknown; known are key, title",
        ),
        ('kind = "tick"', 'kind = "tick"\nhwo = "x"', "item look, the field hwo is unknown"),
        ('kind = "tick"', 'kind = "tick"\nfits = "wheels"', "item look, the field fits is"),
        ("stops = true", "", "in item look, the field stops is missing"),
        ("stops = true", 'stops = "yes"', "in item look, the field stops is 'yes'; write true"),
        ('"Look at it."', '"  "', "in item look, the field how is '  '; write one line"),
        ('"Look at it."', '"a\\u001b[2Jb"', "in item look, the field how is"),
        ('"Look at it."', '"a\\nb"', "in item look, the field how is"),
        ('"Look at it."', f'"{"a" * 101}"', "item look, the field how has 101 characters"),
        ('"Look"', f'"{"a" * 35}"', "item look, the field title has 35 characters"),
        ('"It may be broken."', '""', "in item look, the field why is ''; write"),
        ('"our own list"', '""', "in item look, the field source is ''; write"),
        ('"set by the clinic"', '"sure"', "in item look, the field confidence is 'sure'"),
    ],
)
def test_a_field_that_makes_no_sense_is_refused_by_item_and_field(
    old: str, new: str, said: str
) -> None:
    assert OWN.count(old) == 1
    with pytest.raises(InputError, match=said) as refused:
        check_text(OWN.replace(old, new))
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    "text",
    ["name = ", "[" * 5000, "name = " + "9" * 5000, "group = 3", "group = []", "[[group]]", ""],
)
def test_text_that_is_no_list_is_refused_in_words(text: str) -> None:
    with pytest.raises(InputError):
        check_text(text)


@pytest.mark.parametrize(
    ("rule", "kind", "said"),
    [
        ("", "number", "item look, the field unit is missing"),
        ('unit = "psi"\nat_least = 5', "number", "item look, the field at_least is 5"),
        ('unit = "g"\nat_least = "a"\nat_most = "b"', "number", "at_most stands beside at_least"),
        ('unit = "g"\nabout = "a"', "number", "item look, the field within belongs with about"),
        ('unit = "g"\nwithin = "a"', "number", "item look, the field within belongs with about"),
        ('unit = "g"\nor_hold = "a"', "number", "item look, the field or_hold needs a rule"),
        ('unit = "g"\nstops_below = "a"', "number", "the field stops_below needs at_least"),
        ("", "hold", "item look, the field at_least is missing"),
        ('choices = ["a"]\npassing = []', "choice", "item look, the field passing must hold some"),
        ('choices = ["a"]\npassing = ["a"]', "choice", "the field passing must hold some"),
        ('choices = ["a", "b"]\npassing = ["c"]', "choice", "the field passing must hold some"),
        (
            'choices = ["a", "a"]\npassing = ["a"]',
            "choice",
            "choices is .* write a list of different",
        ),
        (
            'choices = "ab"\npassing = ["a"]',
            "choice",
            "choices is 'ab'; write a list of different words",
        ),
        ('choices = ["a", 1]\npassing = ["a"]', "choice", "the field choices is 1; write a list"),
        (
            'choices = ["a", "b"]\npassing = ["a"]\nabsorbent_due = ["a"]',
            "choice",
            "item look, the field absorbent_due must hold choices that do not pass",
        ),
    ],
)
def test_an_item_that_cannot_be_judged_is_refused(rule: str, kind: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        check_text(measured(rule, kind))


def test_seconds_held_are_never_compared_with_a_limit_in_another_unit() -> None:
    rule = 'unit = "psi"\nat_least = "a"\nor_hold = "b"\nstops_below = "c"'
    with pytest.raises(InputError, match="stops_below cannot judge the hold of or_hold"):
        check_text(measured(rule))


def test_a_limit_that_does_not_exist_is_refused_where_the_limits_are_known() -> None:
    text = measured('unit = "psi"\nat_least = "cylinder-lwo"')
    assert check_text(text).items[0].at_least == "cylinder-lwo"
    with pytest.raises(InputError, match="item look, the field at_least is cylinder-lwo; known"):
        check_text(text, UNITS)


def test_a_limit_in_another_unit_than_the_item_is_refused() -> None:
    """A leak of 199 L/min must not pass a limit of 200 mL/min."""
    with pytest.raises(InputError, match="at_most is leak-flow, which counts in mL/min, not in L"):
        check_text(measured('unit = "L/min"\nat_most = "leak-flow"'), UNITS)
    with pytest.raises(InputError, match="at_least is leak-pressure, which counts in cmH2O, not"):
        check_text(measured('at_least = "leak-pressure"', "hold"), UNITS)


def test_every_fault_of_a_list_is_told_at_once() -> None:
    text = OWN.replace("version = 3", "version = 0").replace('kind = "tick"', 'kind = "guess"')
    with pytest.raises(Faults) as refused:
        check_text(text + ITEM.replace("stops = true", "") + ITEM.replace('"Look at it."', '""'))
    assert refused.value.faults == (
        "in the list, the field version is 0; write a whole number from 1 on",
        "in item look, the field kind is 'guess'; write one of: tick, number, hold, choice",
        "in item look, the field stops is missing; write true or false",
        "in item look, the field how is ''; write one line without blanks around it",
    )
    assert str(refused.value).startswith("the list has 4 faults: (1) in the list, the field ")
    with pytest.raises(Faults) as refused:
        check_text(measured('unit = "g"\nwithin = "a"\nor_hold = "b"') + ITEM)
    assert [fault.partition("field ")[2].split()[0] for fault in refused.value.faults] == [
        "key",
        "within",
        "or_hold",
    ]


@pytest.mark.parametrize(("reads", "unit"), [("cylinder", "bar"), ("charcoal", "kg")])
def test_a_reading_is_taken_in_the_unit_in_which_it_is_kept(reads: str, unit: str) -> None:
    with pytest.raises(InputError, match=f"item look, the field unit is {unit}; a {reads} is read"):
        check_text(measured(f'unit = "{unit}"\nreads = "{reads}"'))


@pytest.mark.parametrize("rule", ['reads = "gauge"\nunit = "psi"', 'tests = "leek"\nunit = "psi"'])
def test_what_an_item_reads_or_tests_is_one_of_the_known_words(rule: str) -> None:
    field = rule.partition(" ")[0]
    with pytest.raises(InputError, match=f"item look, the field {field} is .*; write one of: "):
        check_text(measured(rule))


@pytest.mark.parametrize("text", ["", "name = 3", "group = 3", "group = [3]", 'x = "y"'])
def test_a_text_in_the_ledger_that_is_no_list_is_told_in_words(text: str) -> None:
    with pytest.raises(InputError, match="the text is no list of things to look at"):
        parse(text)


def test_two_items_with_one_key_are_refused() -> None:
    with pytest.raises(InputError, match="item look, the field key is used twice"):
        check_text(OWN + ITEM)


@pytest.mark.parametrize("count", [1, 4, 5, 9])
def test_one_group_of_up_to_nine_items_is_a_list(count: int) -> None:
    assert len(check_text(with_items(count)).items) == count


def test_a_group_of_ten_is_refused() -> None:
    with pytest.raises(InputError, match=r"group All of it, from item look on.* 10 times.*5 to 9"):
        check_text(with_items(10))


def test_a_short_list_is_not_cut_into_groups() -> None:
    text = OWN + '[[group]]\ntitle = "More"\n' + ITEM.replace('"look"', '"look-2"')
    with pytest.raises(InputError, match="or one group"):
        check_text(text)


def test_a_long_list_with_a_group_of_four_is_refused() -> None:
    more = "".join(ITEM.replace('"look"', f'"more-{n}"') for n in range(4))
    with pytest.raises(InputError, match="group More, from item more-0 on"):
        check_text(with_items(6) + '[[group]]\ntitle = "More"\n' + more)


SHUT = 'unit = "mL/min"\nat_most = "leak-flow"\npressure = "leak-pressure"'
OPEN = ITEM.replace('"look"', '"pop-off-open"')


def test_a_list_that_shuts_the_pop_off_valve_must_end_with_opening_it() -> None:
    with pytest.raises(InputError, match="item look, the field pressure shuts the pop-off valve"):
        check_text(measured(SHUT))
    assert len(check_text(measured(SHUT) + OPEN).items) == 2


def test_opening_the_pop_off_valve_must_come_last() -> None:
    with pytest.raises(InputError, match="item pop-off-open, the field key must come last"):
        check_text(OWN.replace(ITEM, OPEN + ITEM))


@pytest.mark.parametrize(
    ("old", "new"),
    [("stops = true", "stops = false"), ("stops = true", 'stops = true\nfits = "flush"')],
)
def test_opening_the_pop_off_valve_cannot_be_made_harmless(old: str, new: str) -> None:
    with pytest.raises(InputError, match="item pop-off-open, the field stops must be true"):
        check_text(OWN + OPEN.replace(old, new))


# What an answer means.


@pytest.mark.parametrize(
    ("flow", "state"), [("0", "passed"), ("200", "passed"), ("200.1", "failed"), ("240", "failed")]
)
def test_a_leak_is_judged_by_its_flow_with_the_limit_itself_passing(flow: str, state: str) -> None:
    assert answered("breathing-system-leak", value=flow, unit="mL/min").state == state


def test_a_judged_leak_carries_the_limit_and_says_it_in_one_sentence() -> None:
    assert answered("breathing-system-leak", value="240", unit="mL/min") == Judged(
        state="failed",
        sentence="240 mL/min, limit 200 at 30 cmH2O, pressure not told",
        limit_name="leak-flow",
        limit_value=Decimal(200),
        limit_unit="mL/min",
        low=None,
        high=Decimal(200),
        pressure_cmh2o=Decimal(30),
        stops=True,
    )


def test_the_limits_in_force_judge_and_not_the_defaults() -> None:
    looser = VALUES | {"leak-flow": Decimal(300), "leak-pressure": Decimal(20)}
    found = judge(item("breathing-system-leak"), Answer(value="240", unit="mL/min"), looser)
    assert (found.state, found.sentence) == (
        "passed",
        "240 mL/min, limit 300 at 20 cmH2O, pressure not told",
    )


@pytest.mark.parametrize(("held_s", "state"), [(0, "failed"), (9, "failed"), (10, "passed")])
def test_a_timed_hold_may_stand_in_for_the_flow_of_a_leak(held_s: int, state: str) -> None:
    found = answered("breathing-system-leak", held_s=held_s)
    assert (found.state, found.limit_name, found.limit_unit) == (state, "leak-hold", "s")
    assert found.sentence == f"held {held_s} s, at least 10 at 30 cmH2O, pressure not told"
    assert (found.low, found.high) == (Decimal(10), None)


def test_a_suction_bulb_that_fills_too_early_fails() -> None:
    found = answered("low-pressure-leak", held_s=8)
    assert (found.state, found.stops) == ("failed", True)
    assert found.sentence == "held 8 s, at least 10"


@pytest.mark.parametrize(
    ("psi", "state", "stops"),
    [
        ("1000", "passed", False),
        ("999", "failed", False),
        ("200", "failed", False),
        ("199.9", "failed", True),
    ],
)
def test_a_half_used_cylinder_fails_the_day_but_only_a_low_one_stops_the_machine(
    psi: str, state: str, stops: bool
) -> None:
    found = answered("cylinder-pressure", value=psi, unit="psi")
    assert (found.state, found.stops) == (state, stops)


@pytest.mark.parametrize(
    ("psi", "state", "stops"), [("200", "passed", False), ("199", "failed", True)]
)
def test_before_a_case_only_a_low_cylinder_fails(psi: str, state: str, stops: bool) -> None:
    found = answered("cylinder-pressure", "before-case", value=psi, unit="psi")
    assert (found.state, found.stops) == (state, stops)


@pytest.mark.parametrize(
    ("psi", "state"),
    [("44.9", "failed"), ("45", "passed"), ("50", "passed"), ("55", "passed"), ("55.1", "failed")],
)
def test_the_pipeline_is_judged_on_both_sides(psi: str, state: str) -> None:
    found = answered("pipeline-pressure", value=psi, unit="psi")
    assert (found.state, found.limit_name, found.limit_value) == (state, "pipeline", Decimal(50))
    assert (found.low, found.high) == (Decimal(45), Decimal(55))
    assert found.sentence == f"{psi} psi, allowed 45 to 55"


def test_a_number_without_limit_is_recorded() -> None:
    found = answered("absorbent-hours", value="6.5", unit="h")
    assert (found.state, found.limit_name, found.sentence) == ("passed", None, "6.5 h, recorded")


@pytest.mark.parametrize(
    ("key", "choice", "state", "due"),
    [
        ("absorbent-colour", "fresh", "passed", False),
        ("absorbent-colour", "partly changed", "passed", False),
        ("absorbent-colour", "over half changed", "failed", True),
        ("absorbent-colour", "unknown", "failed", False),
        ("absorbent-feel", "crumbles", "passed", False),
        ("absorbent-feel", "hard", "failed", True),
    ],
)
def test_colour_and_feel_say_when_the_absorbent_is_due(
    key: str, choice: str, state: str, due: bool
) -> None:
    found = answered(key, value=choice)
    assert (found.state, found.absorbent_due, found.stops) == (state, due, False)


@pytest.mark.parametrize(("word", "stops"), [("clear", False), ("blocked", True)])
def test_a_choice_of_a_clinics_own_list_may_stop_the_machine(word: str, stops: bool) -> None:
    own = parse(measured('choices = ["clear", "blocked"]\npassing = ["clear"]', "choice"))
    assert judge(own.items[0], Answer(value=word), VALUES).stops is stops


def test_a_failed_tick_stops_the_machine_where_the_item_says_so() -> None:
    assert answered("pop-off-open", state="failed").stops
    assert not answered("monitors", state="failed").stops
    assert not answered("pop-off-open", state="passed").stops


def test_a_reason_is_part_of_the_sentence() -> None:
    assert answered("flowmeters", state="failed", reason="float sticks").sentence == (
        "failed: float sticks"
    )
    assert answered("flowmeters", state="not done", reason="no key").sentence == "not done: no key"


def test_saying_passed_does_not_make_a_measurement_pass() -> None:
    said = answered("breathing-system-leak", state="passed", value="500", unit="mL/min")
    assert said.state == "failed"
    assert answered("absorbent-feel", state="passed", value="hard").state == "failed"


def test_a_gauge_without_reading_fails_without_a_value() -> None:
    found = answered("cylinder-pressure", state="failed", reason="needle stuck")
    assert (found.state, found.stops) == ("failed", True)
    assert found.sentence == "failed, no value: needle stuck"


def test_a_recorded_number_can_be_said_to_fail() -> None:
    assert answered("charcoal-weight", state="failed", value="1280", unit="g").state == "failed"


@pytest.mark.parametrize(
    ("key", "said", "sentence"),
    [
        ("breathing-system-leak", {"state": "passed"}, "a value in mL/min or the seconds held"),
        ("breathing-system-leak", {}, "needs a value in mL/min or the seconds held"),
        ("breathing-system-leak", {"value": "240"}, "has no unit; give its value in mL/min"),
        ("breathing-system-leak", {"value": "0.2", "unit": "L/min"}, "has L/min; give its value"),
        ("breathing-system-leak", {"value": "nan", "unit": "mL/min"}, "has the value 'nan'"),
        ("breathing-system-leak", {"value": "1e3", "unit": "mL/min"}, "has the value '1e3'"),
        ("breathing-system-leak", {"value": "-5", "unit": "mL/min"}, "has the value '-5'"),
        ("breathing-system-leak", {"value": "٣", "unit": "mL/min"}, r"the value '\\u0663'"),
        ("breathing-system-leak", {"value": "5\n", "unit": "mL/min"}, r"the value '5\\n'"),
        ("breathing-system-leak", {"value": "5", "unit": "mL/min", "held_s": 9}, "give one"),
        ("breathing-system-leak", {"held_s": -1}, "held -1 s; give 0 to 3600 s"),
        ("breathing-system-leak", {"held_s": 3601}, "held 3601 s; give 0 to 3600 s"),
        ("breathing-system-leak", {"state": "failed", "value": "5", "unit": "mL/min"}, "would p"),
        ("cylinder-pressure", {"held_s": 12}, "needs a value in psi"),
        ("low-pressure-leak", {"state": "passed"}, "needs the seconds held; a tick is not enough"),
        ("low-pressure-leak", {"value": "12", "unit": "s"}, "needs the seconds held"),
        ("absorbent-colour", {"state": "passed"}, "needs one of: fresh, partly changed"),
        ("absorbent-colour", {"value": "purple"}, "needs one of: fresh, partly changed"),
        ("absorbent-colour", {"value": "fresh", "held_s": 3}, "needs one of"),
        ("absorbent-colour", {"state": "failed", "value": "fresh"}, r"would pass \(fresh\)"),
        ("pop-off-open", {}, "needs passed, failed, or not done with a reason"),
        ("pop-off-open", {"state": "passed", "value": "3"}, "has nothing to measure"),
        ("pop-off-open", {"state": "fine"}, "cannot be 'fine'; say one of: passed, failed"),
        ("pop-off-open", {"state": "not done"}, "is not done, so it needs a reason"),
        ("pop-off-open", {"state": "not done", "reason": "  "}, "needs a reason"),
        ("pop-off-open", {"state": "not fitted"}, "is part of every machine"),
        ("charcoal-weight", {"state": "not fitted", "value": "3"}, "so it has no value"),
    ],
)
def test_an_answer_that_does_not_fit_its_item_is_refused(
    key: str, said: dict[str, object], sentence: str
) -> None:
    with pytest.raises(InputError, match=sentence) as refused:
        answered(key, **said)
    assert str(refused.value).startswith(f"item {key} ")


@pytest.mark.parametrize("key", ["breathing-system-leak", "cylinder-pressure", "pipeline-pressure"])
def test_a_limit_that_is_not_set_is_named_and_nothing_is_guessed(key: str) -> None:
    one = item(key)
    with pytest.raises(InputError, match=r"judged by the limit [a-z-]+, which is not set"):
        judge(one, Answer(value="50", unit=one.unit), {})


# What a whole check means.


def check(name: str = "daily", **other: Answer) -> Check:
    """The entry that good answers to every item make, but for those given."""
    checklist = builtin(name)
    walk = ToWalk("bay1", checklist, VALUES, Profile(), last={})
    good = {one.key: good_answer(one) for one in checklist.items}
    return check_body(walk, good | {key.replace("_", "-"): said for key, said in other.items()})


def good_answer(one: Item) -> Answer:
    if one.kind == "hold":
        return Answer(held_s=12)
    if one.kind == "choice":
        return Answer(value=one.passing[0])
    if one.kind == "tick":
        return Answer(state="passed")
    value = {"cylinder-pressure": "1500", "pipeline-pressure": "50"}.get(one.key, "100")
    return Answer(value=value, unit=one.unit)


def test_a_check_passes_where_all_passed_or_is_not_fitted() -> None:
    found = check(charcoal_weight=Answer(state="not fitted"))
    assert found.verdict == "passed"
    assert not any(one.stops for one in found.answers)


@pytest.mark.parametrize("key", [one.key for one in builtin("daily").items])
def test_a_check_needs_an_answer_to_every_item(key: str) -> None:
    checklist = builtin("daily")
    given = {one.key: good_answer(one) for one in checklist.items if one.key != key}
    with pytest.raises(InputError, match=f"the item {key} has no answer; give one"):
        check_body(ToWalk("bay1", checklist, VALUES, Profile(), last={}), given)


USUAL = Profile(
    pipeline=True,
    cylinders=("E",),
    second_gas=False,
    oxygen_monitor=False,
    powered=False,
    ventilator=False,
    suction=False,
    vaporizer_places=1,
    suction_bulb=False,
    circuits=("adult rebreathing", "pediatric rebreathing"),
    coaxial=False,
    hours_label=True,
    relief_valve=True,
    scavenging="active",
)
LITTLE = Profile(
    pipeline=False,
    cylinders=("E",),
    oxygen_monitor=False,
    powered=False,
    ventilator=False,
    suction=False,
    vaporizer_places=1,
    suction_bulb=False,
    circuits=("non-rebreathing",),
    coaxial=False,
    hours_label=False,
    relief_valve=False,
    scavenging="none",
)


def asked_of(profile: Profile, *skipped: When) -> list[str]:
    walk = ToWalk("bay1", builtin("daily"), VALUES, profile, {}, not_today=frozenset(skipped))
    return [one.key for one in walk.items]


def test_a_usual_machine_is_asked_about_fifteen_things_a_small_one_fewer() -> None:
    assert len(asked_of(USUAL, "absorbent-half", "charcoal-weekly")) == 16
    assert asked_of(LITTLE) == [
        "backup-ventilation",
        "flowmeters",
        "cylinder-pressure",
        "vaporizer-upright",
        "vaporizer-dial",
        "vaporizer-level",
        "bag-and-hoses",
        "monitors",
        "breathing-system-leak",
        "pop-off-open",
    ]
    assert asked_of(Profile()) == [one.key for one in builtin("daily").items]


@pytest.mark.parametrize("profile", [USUAL, LITTLE, Profile()])
def test_a_check_passes_by_what_is_asked_alone_and_keeps_what_is_lacking(profile: Profile) -> None:
    skipped: frozenset[When] = frozenset({"absorbent-half", "charcoal-weekly"})
    walk = ToWalk("bay1", builtin("daily"), VALUES, profile, {}, not_today=skipped)
    found = check_body(walk, {one.key: good_answer(one) for one in walk.items})
    assert found.verdict == "passed"
    unasked = {one.item for one in found.answers} - {one.key for one in walk.items}
    lacking = {one.key for one in builtin("daily").items if walk.lacks(one)}
    assert unasked == lacking
    assert {one.item for one in found.answers if one.state == "not fitted"} == lacking


def test_what_need_not_be_asked_today_is_taken_where_it_is_told() -> None:
    skipped: frozenset[When] = frozenset({"absorbent-half"})
    walk = ToWalk("bay1", builtin("daily"), VALUES, USUAL, {}, not_today=skipped)
    good = {one.key: good_answer(one) for one in walk.items}
    assert "absorbent-feel" not in {one.item for one in check_body(walk, good).answers}
    told = check_body(walk, good | {"absorbent-feel": Answer(value="hard")})
    assert {one.item: one.state for one in told.answers}["absorbent-feel"] == "failed"


def test_a_check_with_something_not_done_is_incomplete() -> None:
    assert check(monitors=Answer(state="not done", reason="on loan")).verdict == "incomplete"


def test_a_failure_outweighs_whatever_was_not_done() -> None:
    skipped = Answer(state="not done", reason="on loan")
    assert check(monitors=skipped, flowmeters=Answer(state="failed")).verdict == "failed"


def test_only_the_failures_that_stop_the_machine_are_marked_in_the_order_of_the_list() -> None:
    failed = Answer(state="failed")
    found = check(
        pop_off_open=failed,
        monitors=failed,
        cylinder_pressure=Answer(value="800", unit="psi"),
        flowmeters=failed,
    )
    assert [one.item for one in found.answers if one.stops] == ["flowmeters", "pop-off-open"]


def test_an_answer_to_no_item_of_the_list_is_refused() -> None:
    with pytest.raises(InputError, match="the list daily has no item tyres; leave it out"):
        check(tyres=Answer(state="passed"))


def test_the_alarm_list_cannot_pass_by_saying_not_fitted_to_everything() -> None:
    alarm = builtin("oxygen-failure-alarm")
    refused = [one.key for one in alarm.items if one.fits is None]
    assert refused == ["oxygen-back"]
