"""What a hand gets wrong: every value of every command is refused in one sentence, nothing saved.

``LINES`` holds, for every command, values with which it works; each test replaces one of them. A
command or an option without a line here fails a test of its own.
"""

import os
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from logbook.checklists import builtin_names
from logbook.cli import logbook, options
from logbook.cli.desk import Desk
from logbook.cli.failures import run
from tests.cli.commandtree import leaves
from tests.conftest import NOW, Ran

Command = Callable[..., Ran]
Bad = tuple[tuple[str, str], ...]
"""Values that are refused, each with words of the sentence that refuses it."""

TIME: Bad = (
    ("2026-03-07 08:00", "lies in the future"),
    ("1999-12-31 08:00", "before the year 2000"),
    ("2026-03-08 02:30", "does not exist in America/Denver"),
    ("2025-11-02 01:30", "happens twice in America/Denver"),
    ("25:00", "not a time of the day"),
    ("2026-02-31 08:00", "not in the calendar"),
    ("2026-03-02", "a day without a time"),
    ("٧:١٠", "is not a time"),
    ("nan", "is not a time"),
    ("1e3", "is not a time"),
    ("-7:10", "is not a time"),
    ("7:10kg", "is not a time"),
    ("", "is empty"),
)
# An end that is too late or too early is told as a case that cannot have been.
END: Bad = (("2026-03-07 08:00", "would last"), ("1999-12-31 08:00", "not after"), *TIME[2:])
DAY: Bad = (
    ("2026-02-31", "not in the calendar"),
    ("1899-12-31", "not in the years"),
    ("٢٠٢٦-٠٣-٠٢", "is not a date"),
    ("02.03.2026", "is not a date"),
    ("7:10", "is not a date"),
    ("nan", "is not a date"),
    ("1e3", "is not a date"),
    ("-1", "is not a date"),
    ("", "is empty"),
)
PAST_DAY: Bad = (("2026-03-09", "lies in the future"), *DAY)
AS_OF: Bad = (
    ("1999-12-30", "before the year 2000"),
    ("2026-03-08 02:30", "does not exist"),
    ("2025-11-02 01:30", "happens twice"),
    ("25:00", "not a time of the day"),
    *(bad for bad in DAY if bad[0] != "7:10"),
)
MASS: Bad = (
    ("٢٤kg", "is not a weight"),
    ("nan", "is not a weight"),
    ("inf", "is not a weight"),
    ("infkg", "is not a weight"),
    ("1e3", "is not a weight"),
    ("1e3kg", "is not a weight"),
    ("-24kg", "below zero"),
    ("24", "needs its unit"),
    ("24psi", "the unit psi does not fit"),
    ("24mL", "the unit mL does not fit"),
    ("24,5kg", "comma"),
    ("9999999999999kg", "more than 12 digits"),
    ("999999kg", ""),
    ("", "is empty"),
)
VOLUME: Bad = (
    ("٢٤mL", "is not a volume"),
    ("nan", "is not a volume"),
    ("inf", "is not a volume"),
    ("1e3mL", "is not a volume"),
    ("-24mL", "below zero"),
    ("24", "needs its unit"),
    ("24kg", "the unit kg does not fit"),
    ("24,5mL", "comma"),
    ("999999L", ""),
    ("", "is empty"),
)
FLOW: Bad = (
    ("١L/min", "is not a flow"),
    ("nan", "is not a flow"),
    ("inf", "is not a flow"),
    ("1e3mL/min", "is not a flow"),
    ("-1L/min", "below zero"),
    ("1", "needs its unit"),
    ("1L", "the unit L does not fit"),
    ("1,5L/min", "comma"),
    ("999999L/min", ""),
    ("", "is empty"),
)
GAUGE: Bad = (
    ("١psi", "is not a cylinder or pipeline pressure"),
    ("nan", "is not a cylinder or pipeline pressure"),
    ("inf", "is not a cylinder or pipeline pressure"),
    ("1e3psi", "is not a cylinder or pipeline pressure"),
    ("-1psi", "below zero"),
    ("1500", "needs its unit"),
    ("30cmH2O", "does not fit"),
    ("1,5psi", "comma"),
    ("999999psi", ""),
    ("", "is empty"),
)
PERCENT: Bad = (
    ("٢", "is not a plain number"),
    ("nan", "is not a plain number"),
    ("inf", "is not a plain number"),
    ("1e1", "is not a plain number"),
    ("2psi", "is not a plain number"),
    ("2,5", "comma"),
    ("-1", "within 0 to 100"),
    ("101", "within 0 to 100"),
    ("", "is empty"),
)
NUMBER: Bad = (
    ("٦", "is not a plain number"),
    ("nan", "is not a plain number"),
    ("inf", "is not a plain number"),
    ("1e3", "is not a plain number"),
    ("6h", "is not a plain number"),
    ("2,5", "comma"),
    ("-1", ""),
    ("0", ""),
    ("", "is empty"),
)
DURATION: Bad = (
    ("١h", "is not a plain number"),
    ("nan", "is not a duration"),
    ("inf", "is not a duration"),
    ("1e3", "is not a duration"),
    ("-1h", "below zero"),
    ("95", "needs its unit"),
    ("5kg", "is not a duration"),
    ("1h90", "is not a duration"),
    ("0.5s", "not a whole number of seconds"),
    ("999999999999h", "longer than 31 days"),
    ("0min", "no time at all"),
    ("", "is empty"),
)
ENTRY: Bad = (
    ("٧", "is not the number of an entry"),
    ("0", "is not the number of an entry"),
    ("1_0", "is not the number of an entry"),
    ("1e3", "is not the number of an entry"),
    ("nan", "is not the number of an entry"),
    ("99999999999999999999", "is not the number of an entry"),
    ("-1", ""),
    ("999", "999"),
    ("", "is not the number of an entry"),
)
BY: Bad = (
    ("ZZ", "nobody here signs as ZZ"),
    ("kø", "nobody here signs as kø"),
    ("٢", "nobody here signs as"),
    ("", "is empty"),
)
UNIT: Bad = (("bay9", "bay9"), ("BAY1", "BAY1"), ("٧", ""), ("-1", ""), ("", ""))
USED: Bad = (("bay0", "bay0"), *UNIT)
FRESH: Bad = (("bay1", "is taken"), ("Bay 7", "lower-case"), ("٧", "lower-case"), ("", ""))
TEXT: Bad = (("", ""), ("   ", ""), ("x" * 501, "500"))
CHOICE: Bad = (("nonsense", "is not one of"), ("٧", "is not one of"), ("", "is not one of"))
EVERY: Bad = (
    ("P0M", ""),
    ("12M", ""),
    ("0 months", ""),
    ("two weeks", ""),
    ("٣", ""),
    ("1e3", ""),
    ("-P1M", ""),
    ("FREQ=DAYLY", ""),
)
OUTPUT: Bad = (("2 nan", "plain number"), ("٢ 2", "plain number"), ("2", "requires 2 arguments"))
STRETCH: Bad = (
    ("15min 1e3L/min 3", "is not a flow"),
    ("15 2L/min 3", "needs its unit"),
    ("15min 2L/min nan", "is not a plain number"),
    ("9h 2L/min 3", "longer than the case"),
    ("15min 2L/min", "requires 3 arguments"),
)
FULL: Bad = (("660L", "is not VOLUME@PRESSURE"), ("660psi@1900psi", "does not fit"), ("@", ""))
CHANGE: Bad = (
    ("mass_g=1e3", "plain number"),
    ("mass_g=٢٤", "plain number"),
    ("mass_g=nan", "plain number"),
    ("mass_g=-5", "must lie between"),
    ("expiry=2026-02-31", ""),
    ("machine=bay9", "there is no machine bay9"),
    ("machine", "names no field"),
    ("colour=white", "names no field"),
    ("", "names no field"),
)
NO_FILE: Bad = (("nowhere", ""), (".", ""), ("", ""))
TAKEN_FILE: Bad = (("list.toml", "exists"), (".", ""), ("", "exists"))

KINDS: dict[Any, Bad] = {
    options.MASS: MASS,
    options.VOLUME: VOLUME,
    options.FLOW: FLOW,
    options.GAUGE: GAUGE,
    options.PIPELINE: (*GAUGE, ("125bar", "did you mean the cylinder")),
    options.PERCENT: PERCENT,
    options.NUMBER: NUMBER,
    options.DURATION: DURATION,
    options.ENTRY: ENTRY,
    **dict.fromkeys(("at", "began", "happened"), TIME),
    **dict.fromkeys(("machine", "unit", "tag", "fit"), USED),
    "vaporizer": UNIT,
    **dict.fromkeys(
        ("because", "certificate", "detail", "done_by", "item", "location", "lot", "name"), TEXT
    ),
    **dict.fromkeys(
        ("old_granules", "reference", "remark", "serial", "source", "species", "text"), TEXT
    ),
    "as_of": AS_OF,
    "by": BY,
    "ended": END,
    "every": EVERY,
    "expiry": DAY,
    "fields": CHANGE,
    "full": FULL,
    "initials": (("ko", "are taken"), ("kø", "capital"), ("٧", "capital"), ("", "is empty")),
    "last": PAST_DAY,
    "limit": (("absorbent-hour", "there is no limit absorbent-hour"), ("٧", ""), ("", "")),
    "list_name": (("nonsense", "there is no list nonsense"), ("٧", ""), ("", "there is no list")),
    "output": OUTPUT,
    "since": DAY,
    "until": DAY,
    "stretch": STRETCH,
    "timezone": (("Mars/Olympus", "IANA"), ("../../etc/passwd", "IANA"), ("", "IANA")),
}
"""The bad values of an option by its type, else by its name."""
OF_COMMAND: dict[tuple[str, str], Bad] = {
    ("backup", "target"): TAKEN_FILE,
    ("check", "answers"): (("nowhere", "nowhere"), ("list.toml", "not JSON"), (".", "")),
    ("check", "item"): (("nonsense", "there is no item nonsense"), ("٧", "there is no item")),
    ("checklist load", "path"): (*NO_FILE, ("answers.json", "not TOML")),
    ("checklist show", "name"): (("nonsense", "there is no list nonsense"), ("", "no list")),
    ("checkpoint", "target"): TAKEN_FILE,
    ("demo", "folder"): (("list.toml", "is a file"),),
    ("import cases", "path"): (*NO_FILE, ("list.toml", "row 1 of list.toml")),
    ("import changes", "path"): (*NO_FILE, ("list.toml", "row 1 of list.toml")),
    ("import services", "path"): (*NO_FILE, ("list.toml", "row 1 of list.toml")),
    ("machine add", "tag"): FRESH,
    ("machine show", "tag"): UNIT,
    ("vaporizer add", "tag"): FRESH,
    ("vaporizer show", "tag"): UNIT,
    ("case begin", "stretch"): tuple(bad for bad in STRETCH if bad[0] != "9h 2L/min 3"),
    ("correct", "stretch"): STRETCH[:-1],
    ("case list", "machine"): UNIT,
    ("history", "unit"): UNIT,
    ("schema", "name"): (("nonsense", "there is no schema nonsense"), ("", "there is no schema")),
    ("rule set", "value"): tuple(bad for bad in NUMBER if bad[0] != "0"),
    ("staff add", "name"): (("", "1 to 100"), ("   ", "1 to 100"), ("x" * 101, "1 to 100")),
    ("vaporizer fit", "tag"): UNIT,
    ("vaporizer remove", "tag"): UNIT,
    ("restore", "source"): (("nowhere", "nowhere"), (".", "")),
    ("verify", "against"): (("nowhere", ""), ("٧", ""), (".", "")),
    ("oxygen left", "reserve"): tuple(bad for bad in GAUGE if bad[0] != "999999psi"),
}
"""The bad values of an option that mean something of its own to one command."""
IN_OWN_TEST = {("import cases", "by"), ("import changes", "by"), ("import services", "by")}
"""Told row by row, in a test further down."""

LINES: dict[str, dict[str, str]] = {
    "board": {},
    "check": {"machine": "bay2", "list_name": "oxygen-failure-alarm", "answers": "answers.json"},
    "case begin": {"machine": "bay2"},
    "case end": {"machine": "bay1"},
    "case list": {},
    "case log": {"machine": "bay1", "began": "2026-03-03 08:10", "ran": "1h35"},
    "absorbent change": {"machine": "bay1"},
    "agent fill": {"vaporizer": "iso1", "level": "240ml"},
    "agent level": {"vaporizer": "iso1", "amount": "180ml"},
    "agent use": {"name": "isoflurane", "dial": "2", "flow": "1L/min", "lasted": "60min"},
    "oxygen change": {"machine": "bay1"},
    "oxygen left": {"size": "E", "gauge": "1500psi", "flow": "2L/min"},
    "oxygen read": {"machine": "bay1", "cylinder": "1500psi"},
    "charcoal change": {"machine": "bay1"},
    "charcoal weigh": {"machine": "bay1", "weight": "815g"},
    "ready": {"machine": "bay1"},
    "setup": {"weight": "12kg"},
    "due": {},
    "fault report": {"unit": "bay1", "what": "leak"},
    "return-to-service": {"unit": "iso1", "evidence": "11"},
    "service done": {"unit": "iso1", "item": "output verification", "outcome": "passed"},
    "service list": {},
    "service plan": {"unit": "bay1", "item": "service", "every": "P6M"},
    "history": {"unit": "bay1"},
    "correct": {"entry": "9", "because": "misread", "happened": "2026-03-02 07:20"},
    "note": {"text": "caster squeaks"},
    "machine add": {"tag": "bay7"},
    "machine change": {"tag": "bay1", "because": "moved", "location": "room 2"},
    "machine list": {},
    "machine retire": {"tag": "bay2", "because": "sold"},
    "machine show": {"tag": "bay1"},
    "vaporizer add": {"tag": "sevo1", "agent": "sevoflurane"},
    "vaporizer fit": {"tag": "iso1", "machine": "bay2"},
    "vaporizer list": {},
    "vaporizer remove": {"tag": "iso1"},
    "vaporizer show": {"tag": "iso1"},
    "checklist list": {},
    "checklist load": {"path": "list.toml"},
    "checklist show": {"name": "daily"},
    "rule list": {},
    "rule set": {"limit": "absorbent-hours", "value": "6", "because": "hospital policy"},
    "staff add": {"initials": "RT", "name": "Night technician"},
    "staff list": {},
    "import cases": {"path": "cases.csv"},
    "import changes": {"path": "changes.csv"},
    "import services": {"path": "services.csv"},
    "new": {"name": "Alder Creek Animal Hospital", "timezone": "America/Denver"},
    "verify": {},
    "checkpoint": {},
    "backup": {"target": "copy.ledger"},
    "restore": {"source": "old.ledger"},
    "rebuild": {},
    "demo": {"folder": "."},
    "schema": {},
}
"""For each command, values with which it works."""
OTHER_LINES: dict[tuple[str, str], dict[str, str]] = {
    ("case log", "ended"): {"machine": "bay1", "began": "2026-03-03 08:10"},
    ("correct", "ended"): {"entry": "10", "because": "misread"},
    ("correct", "fields"): {"entry": "9", "because": "misread"},
    ("correct", "ran"): {"entry": "10", "because": "misread"},
    ("correct", "flow"): {"entry": "10", "because": "misread"},
    ("correct", "dial"): {"entry": "10", "because": "misread"},
    ("correct", "stretch"): {"entry": "10", "because": "misread"},
    ("agent level", "level"): {"vaporizer": "iso1"},
    **{
        ("ready", name): {"machine": "bay1", "weight": "12kg"}
        for name in ("circuit", "dial", "flow")
    },
    ("oxygen left", "factor"): {"gauge": "1500psi", "flow": "2L/min"},
    ("oxygen left", "full"): {"gauge": "1500psi", "flow": "2L/min"},
    ("restore", "because"): {"source": "old.ledger", "go": ""},
    ("restore", "by"): {"source": "old.ledger", "go": "", "because": "disk failed"},
    ("service done", "tolerance"): {**LINES["service done"], "output": "2 2.1"},
}
"""The same where an option stands against another one of the command's line."""
UNSIGNED = {"machine add", "vaporizer add", "service plan", "staff add"}
"""Entries that set a ledger up may go unsigned."""

LIST = (
    'name = "{0}"\nversion = 1\ntitle = "Our own list"\n[[group]]\ntitle = "All"\n'
    '[[group.item]]\nkey = "{1}"\ntitle = "Look"\nstops = true\nhow = "Look at it."\n'
    'why = "A hole lets air in."\nsource = "our own"\nconfidence = "set by the clinic"\n'
)
FILES = {
    "list.toml": LIST.format("own", "hoses") + 'kind = "tick"\n',
    "measured.toml": (
        LIST.format("measured", "cylinder")
        + 'kind = "number"\nunit = "psi"\nat_least = "cylinder-low"\n'
    ),
    "answers.json": (
        '{"oxygen-alarm-sounds": "passed", "other-gases-stop": "not fitted", '
        '"oxygen-back": "passed"}'
    ),
    "cases.csv": "machine,began,ran\nbay2,2026-03-04 08:10,1h\n",
    "changes.csv": "machine,at,what\nbay2,2026-03-04,absorbent\n",
    "services.csv": "unit,item,at,outcome\niso1,service,2026-03-04,passed\n",
}


@pytest.fixture(scope="module")
def stocked(founded: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger in which every line of ``LINES`` works: two machines, a retired one, a running
    case."""
    path = tmp_path_factory.mktemp("stocked") / "clinic.ledger"
    path.write_bytes(founded.read_bytes())
    lines = (
        "machine add bay1 --absorbent 1200g --scavenging charcoal",  # 3
        "vaporizer add iso1 --agent isoflurane --fit bay1",  # 4 and 5
        "machine add bay2",
        "machine add bay0",
        "machine retire bay0 --because sold --at 2026-03-01T08:00",
        "absorbent change bay1 --at 2026-03-02T07:30",  # 9
        "case log bay1 --began 2026-03-02T08:10 --ran 1h35",  # 10
        "service done iso1 'output verification' --outcome passed --at 2026-03-03T08:00",  # 11
        "case begin bay1 --at 2026-03-06T15:00",  # 12
        f"checklist load {path.with_name('measured.toml')}",
    )
    path.with_name("measured.toml").write_text(FILES["measured.toml"])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Desk, "now", lambda _self: NOW)
        patch.setenv("LOGBOOK_BY", "KO")
        for line in lines:
            with CliRunner().isolation() as (_, err, _):
                code = run(logbook, ["--ledger", str(path), *shlex.split(line)])
                assert code == 0, (line, err.getvalue())
    return path


@pytest.fixture
def ledger(stocked: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the stocked ledger, in a folder with the files that some lines name."""
    monkeypatch.chdir(tmp_path)
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "old.ledger").write_bytes(stocked.read_bytes())
    path = tmp_path / "clinic.ledger"
    path.write_bytes(stocked.read_bytes())
    return path


def argv(words: str, given: dict[str, str]) -> list[str]:
    """The command line that gives these values to a command."""
    line = words.split()
    for param in leaves()[words].params:
        if param.name in given:
            value = given[param.name]
            parts = value.split(" ") if param.nargs > 1 else [value]
            parts = [] if getattr(param, "is_flag", False) else parts
            line += parts if isinstance(param, click.Argument) else [param.opts[0], *parts]
    return line


def values_of(words: str, param: click.Parameter) -> Bad:
    """The values that a command must refuse for one of its parameters."""
    assert param.name is not None
    if (words, param.name) in OF_COMMAND:
        return OF_COMMAND[words, param.name]
    if isinstance(param.type, click.Choice):
        return CHOICE
    return KINDS[param.type] if param.type in KINDS else KINDS[param.name]


def told_params(words: str) -> Iterator[click.Parameter]:
    """The parameters of a command that take a value."""
    for param in leaves()[words].params:
        is_flag = getattr(param, "is_flag", False)
        if not is_flag and (words, param.name) not in IN_OWN_TEST:
            yield param


def refused(ran: Ran, words: str = "") -> None:
    """One sentence on stderr, exit code 2, nothing else."""
    assert (ran.code, ran.out) == (2, ""), ran
    assert ran.err.startswith("Not done, nothing saved: "), ran.err
    assert ran.err.endswith(".\n")
    assert ran.err.count("\n") == 1
    assert ran.err[:-1].isprintable()
    for never in ("Usage:", "Traceback", "Error:", "pydantic", "sqlite"):
        assert never not in ran.err
    assert words in ran.err


def untouched(ledger: Path, stocked: Path) -> None:
    """The ledger is as it was, byte for byte, and nothing lies beside it."""
    assert ledger.read_bytes() == stocked.read_bytes()
    beside = {path.name for path in ledger.parent.iterdir()} - FILES.keys()
    assert {name for name in beside if "ledger" in name} == {"clinic.ledger", "old.ledger"}


@pytest.mark.parametrize("words", sorted(LINES))
def test_an_empty_name_of_the_ledger_is_refused_by_every_command(
    run_logbook: Command, ledger: Path, stocked: Path, words: str
) -> None:
    refused(run_logbook("--ledger", "", *argv(words, LINES[words])), "--ledger is empty")
    untouched(ledger, stocked)


def test_every_command_stands_in_the_table() -> None:
    assert leaves().keys() == LINES.keys()


def test_every_option_that_takes_a_value_has_bad_values() -> None:
    for words in leaves():
        for param in told_params(words):
            assert values_of(words, param), (words, param.name)


# The demo has tests of its own, and takes seconds.
@pytest.mark.parametrize("words", sorted(LINES.keys() - {"demo"}))
def test_the_lines_of_the_table_work_as_they_stand(
    run_logbook: Command, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if words == "new":
        monkeypatch.setenv("LOGBOOK_LEDGER", "another.ledger")
    ran = run_logbook(*argv(words, LINES[words]))
    assert ran.code in (0, 3), ran.err
    assert ran.out


@pytest.mark.parametrize(
    ("words", "name"), [(words, p.name) for words in LINES for p in told_params(words)]
)
def test_a_bad_value_is_refused_in_one_sentence_and_nothing_is_saved(
    run_logbook: Command, ledger: Path, stocked: Path, words: str, name: str, monkeypatch: Any
) -> None:
    if words == "new":
        monkeypatch.setenv("LOGBOOK_LEDGER", "another.book")
    (param,) = [one for one in told_params(words) if one.name == name]
    for value, sentence in values_of(words, param):
        given = OTHER_LINES.get((words, name), LINES[words]) | {name: value}
        ran = run_logbook(*argv(words, given))
        # A value that begins with a hyphen reads as an option where no option stands before it.
        hyphen = isinstance(param, click.Argument) and value.startswith("-")
        refused(ran, "there is no option" if hyphen else sentence)
        untouched(ledger, stocked)
    assert not Path("another.book").exists()


@pytest.mark.parametrize("words", LINES)
def test_a_value_too_many_or_an_unknown_option_is_refused(
    run_logbook: Command, ledger: Path, stocked: Path, words: str
) -> None:
    line = argv(words, LINES[words])
    surplus = [] if words == "demo" else ["surplus"]
    refused(run_logbook(*line, *surplus, "more"), "unexpected extra argument")
    refused(run_logbook(*line, "--nonsense"), "there is no option --nonsense")
    untouched(ledger, stocked)


@pytest.mark.parametrize("words", [words for words in LINES if LINES[words]])
def test_a_missing_value_is_named(
    run_logbook: Command, ledger: Path, stocked: Path, words: str
) -> None:
    for param in leaves()[words].params:
        if param.required:
            without = {k: v for k, v in LINES[words].items() if k != param.name}
            name = (
                param.opts[0]
                if isinstance(param, click.Option)
                else param.make_metavar(click.Context(leaves()[words]))
            )
            ran = run_logbook(*argv(words, without))
            refused(ran, "Missing" if isinstance(param, click.Argument) else name)
    untouched(ledger, stocked)


def signed_commands() -> list[str]:
    """The commands whose entries need a signature."""
    return [
        words
        for words, command in leaves().items()
        if any(param.name == "by" for param in command.params) and words not in UNSIGNED
    ]


@pytest.mark.parametrize("words", [w for w in signed_commands() if not w.startswith("import")])
def test_without_a_terminal_missing_initials_name_their_option(
    run_logbook: Command, ledger: Path, stocked: Path, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("LOGBOOK_BY")
    refused(run_logbook(*argv(words, OTHER_LINES.get((words, "by"), LINES[words]))), "give --by")
    untouched(ledger, stocked)


@pytest.mark.parametrize("words", ["import cases", "import changes", "import services"])
def test_rows_that_nobody_signs_are_refused(
    run_logbook: Command, ledger: Path, stocked: Path, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    unknown = run_logbook(*argv(words, LINES[words]), "--by", "ZZ")
    assert (unknown.code, unknown.out) == (2, "")
    assert "row 2: nobody here signs as ZZ" in unknown.err
    monkeypatch.delenv("LOGBOOK_BY")
    nobody = run_logbook(*argv(words, LINES[words]))
    assert (nobody.code, nobody.out) == (2, "")
    assert "give --by" in nobody.err
    untouched(ledger, stocked)


def test_a_check_without_a_terminal_asks_for_a_file_of_answers(
    run_logbook: Command, ledger: Path, stocked: Path
) -> None:
    for name in builtin_names():
        refused(run_logbook("check", "bay2", "--list", name), "give --answers FILE")
    untouched(ledger, stocked)


ALL = '{"oxygen-alarm-sounds": "passed", "other-gases-stop": "passed", "oxygen-back": %s}'
ANSWERS: dict[str, str] = {
    "[]": "not one object",
    '"passed"': "not one object",
    "{": "not JSON",
    "[" * 100_000: "not JSON",
    '{"oxygen-back": "passed", "oxygen-back": "failed"}': "name oxygen-back twice",
    '{"oxygen-back": {"state": "passed", "state": "failed"}}': "name state twice",
    '{"nonsense": "passed"}': "has no item nonsense",
    ALL % '"all passed"': "say one of",
    '{"oxygen-back": true}': "is answered with True",
    '{"oxygen-back": null}': "is answered with None",
    '{"oxygen-back": ["passed"]}': "is answered with",
    '{"oxygen-back": {"verdict": "passed"}}': "has no verdict; known are",
    '{"oxygen-back": {"value": NaN}}': "has a value that is no text",
    '{"oxygen-back": {"value": "٢٤"}}': "",
    ALL % '{"state": "not done"}': "needs a reason",
    ALL % '{"state": "not done", "reason": " "}': "needs a reason",
    ALL % '{"state": "passed", "held_s": "1e3"}': "is not a duration",
    ALL % '{"state": "passed", "held_s": "12"}': "nothing to measure",
    ALL % '"not fitted"': "is part of every machine",
    '{"oxygen-back": "passed"}': "has no answer",
    "{}": "has no answer",
}


@pytest.mark.parametrize(("text", "sentence"), ANSWERS.items(), ids=range(len(ANSWERS)))
def test_answers_that_make_no_sense_are_refused(
    run_logbook: Command, ledger: Path, stocked: Path, text: str, sentence: str
) -> None:
    Path("answers.json").write_text(text, encoding="utf-8")
    ran = run_logbook(*argv("check", LINES["check"]))
    refused(ran, sentence)
    untouched(ledger, stocked)


@pytest.mark.parametrize("value", ["١٢٠ psi", "nan", "1e3", "-5", "120 kg", "", "120,5"])
def test_a_measured_answer_that_is_no_reading_is_refused(
    run_logbook: Command, ledger: Path, stocked: Path, value: str
) -> None:
    Path("answers.json").write_text(f'{{"cylinder": {{"value": "{value}"}}}}')
    refused(run_logbook("check", "bay2", "--list", "measured", "--answers", "answers.json"))
    untouched(ledger, stocked)


def test_a_check_is_refused_for_its_time_and_signature_before_its_answers_are_read(
    run_logbook: Command, ledger: Path, stocked: Path
) -> None:
    # Nobody walks a list of 24 items to hear at its end that the time makes no sense.
    Path("answers.json").write_text("{}")
    line = argv("check", LINES["check"])
    refused(run_logbook(*line, "--at", "2026-03-07 08:00"), "lies in the future")
    refused(run_logbook(*line, "--by", "ZZ"), "nobody here signs as ZZ")
    refused(run_logbook("check", "bay0", "--answers", "answers.json"), "was retired")
    untouched(ledger, stocked)


NEED_NO_LEDGER = {"agent use", "oxygen left", "schema", "setup", "new", "demo", "restore"}


@pytest.mark.parametrize("words", sorted(LINES.keys() - NEED_NO_LEDGER))
def test_a_path_that_is_no_ledger_is_refused(
    run_logbook: Command, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "other.txt"
    monkeypatch.setenv("LOGBOOK_LEDGER", str(other))
    given = LINES[words]
    refused(run_logbook(*argv(words, given)), "there is no ledger")
    other.write_text("a shopping list\n" * 400)
    spoilt = run_logbook(*argv(words, given))
    assert (spoilt.code, spoilt.err.count("\n"), spoilt.out) == (4, 1, ""), spoilt
    assert "is not a ledger" in spoilt.err
    assert other.read_text() == "a shopping list\n" * 400


@pytest.mark.skipif(os.name == "nt", reason="a name of undecodable bytes exists only on POSIX")
def test_bytes_that_are_no_text_are_refused(
    run_logbook: Command, ledger: Path, stocked: Path
) -> None:
    refused(run_logbook("note", "caf\udce9"))
    refused(run_logbook("staff", "add", "RT", "caf\udce9"))
    untouched(ledger, stocked)
