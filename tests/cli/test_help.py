"""Help that helps: every command explains itself, quickly, at any width of the terminal."""

import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from logbook.cli import COMMANDS, logbook
from logbook.cli.failures import run
from logbook.cli.terminal import NARROWEST
from tests.cli.commandtree import commands, leaves
from tests.conftest import Ran

Command = Callable[..., Ran]
HEAVY = ("sqlalchemy", "pydantic", "alembic", "dateutil")
TREE = dict(commands())
GROUPS = sorted(TREE.keys() - leaves().keys())


def help_of(words: str, option: str = "-h") -> str:
    """The help text of a command, without a ledger."""
    with CliRunner().isolation() as (out, _, _):
        assert run(logbook, [*words.split(), option]) == 0
    return out.getvalue().decode()


@pytest.mark.parametrize("words", ["", *TREE])
def test_every_command_explains_itself_with_two_examples(words: str) -> None:
    text = help_of(words)
    assert text == help_of(words, "--help")
    examples = text.partition("Examples:\n")[2].partition("\n\n")[0]
    lines = [line.strip() for line in examples.splitlines() if line.startswith("    logbook ")]
    assert len(lines) >= 2
    bare = [re.sub(r" --(ledger|store) \S+", "", line) for line in lines]
    assert all(line.startswith(f"logbook {words}") for line in bare), lines
    assert len(set(lines)) == len(lines)
    first = text.split("\n\n")[1].strip()
    assert first[0].isupper()
    assert first[-1] in ".?"


@pytest.mark.parametrize("words", GROUPS)
def test_the_lines_of_a_group_are_not_cut_off(words: str) -> None:
    lines = help_of(words).partition("Commands:\n")[2].splitlines()
    assert len(lines) == len(TREE[words].commands)  # type: ignore[attr-defined]
    for line in lines:
        assert line.endswith((".", "?")), line
        assert not line.endswith("..."), line


@pytest.mark.parametrize("words", ["", *TREE])
def test_every_option_says_what_it_is_for(words: str) -> None:
    for param in (TREE[words] if words else logbook).params:
        if isinstance(param, click.Option) and not isinstance(param.type, click.Choice):
            assert param.help, (words, param.name)


@pytest.mark.parametrize("words", leaves())
def test_the_options_of_the_examples_exist(words: str) -> None:
    text = help_of(words).partition("Examples:\n")[2].partition("\n\n")[0]
    known = {option for param in TREE[words].params for option in param.opts} | {
        "--ledger",
        "--store",
    }
    assert set(re.findall(r"(?<= )--[a-z-]+", text)) <= known


def test_the_table_of_commands_leads_to_every_command() -> None:
    text = help_of("")
    for name, (_, line) in COMMANDS.items():
        command = TREE[name]
        assert command.name == name
        assert re.search(rf"^  {name} +{re.escape(line)}$", text, re.MULTILINE), name
        assert line.endswith((".", "?"))
        assert meaning(line) & meaning(command.help or ""), (name, line)


def meaning(text: str) -> set[str]:
    """The words that carry a text."""
    small = {
        "a",
        "all",
        "an",
        "and",
        "by",
        "for",
        "how",
        "in",
        "is",
        "of",
        "one",
        "or",
        "the",
        "to",
    }
    return {word.rstrip("s") for word in re.findall(r"[a-z]+", text.lower())} - small


def program(
    *arguments: str, folder: Path, code: str = "from logbook.cli import main; main()", **more: str
) -> subprocess.CompletedProcess[str]:
    """The program in a process of its own, which knows nothing of this one's ledger."""
    known = ("PATH", "SYSTEMROOT", "PYTHONPATH", "COVERAGE_PROCESS_START")
    kept = {name: os.environ[name] for name in known if name in os.environ}
    own = {"HOME": str(folder), "APPDATA": str(folder), "XDG_CONFIG_HOME": str(folder)}
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", code, *arguments],
        env=kept | own | {"LOGBOOK_LEDGER": str(folder / "none.ledger")} | more,
        capture_output=True,
        text=True,
        encoding="utf-8",
        stdin=subprocess.DEVNULL,
        timeout=60,
        check=False,
    )


TELL_HEAVY = f"""
import atexit, sys
def tell():
    loaded = [name for name in {HEAVY!r} if name in sys.modules]
    own = [name for name in sys.modules if name.startswith("logbook.")]
    print("loaded", loaded, "own", sorted(own), file=sys.stderr)
atexit.register(tell)
from logbook.cli import main
main()
"""


@pytest.mark.parametrize("question", ["due", "board", "ready bay1"])
def test_a_question_waits_for_nothing_that_only_recording_needs(
    question: str, bay1: Command, ledger: Path, tmp_path: Path
) -> None:
    ran = program(*question.split(), folder=tmp_path, code=TELL_HEAVY, LOGBOOK_LEDGER=str(ledger))
    assert ran.stdout
    assert "sqlalchemy" in ran.stderr
    assert not re.findall("pydantic|alembic|refusals|taking_down|consequence", ran.stderr)


def test_a_case_is_logged_without_what_other_entries_and_doors_need(
    bay1: Command, ledger: Path, tmp_path: Path
) -> None:
    told = "case log bay1 --began 7:00 --ran 20min --circuit adult --flow 1L/min --dial 2 --by KO"
    ran = program(*told.split(), folder=tmp_path, code=TELL_HEAVY, LOGBOOK_LEDGER=str(ledger))
    assert "case to " in ran.stdout
    own = set(re.findall(r"'logbook\.([a-z_.]+)'", ran.stderr))
    assert {name for name in own if name.startswith("entries.")} == {
        "entries.base", "entries.case", "entries.explaining",
    }  # fmt: skip
    others = "page|centre|answers.(board|ready|history|audit|forecast)$|sheets.(as_|paper|pdf)"
    assert not [name for name in own if re.match(others, name)]
    assert "alembic" not in ran.stderr


@pytest.mark.parametrize("option", ["--help", "-h", "--version"])
def test_help_and_version_import_nothing_heavy(option: str, tmp_path: Path) -> None:
    ran = program(option, folder=tmp_path, code=TELL_HEAVY)
    assert (ran.returncode, bool(ran.stdout)) == (0, True)
    own = [
        "logbook.cli",
        "logbook.cli.failures",
        "logbook.cli.hand",
        "logbook.cli.helping",
        "logbook.deed",
        "logbook.errors",
    ]
    assert ran.stderr == f"loaded [] own {own}\n"


def test_the_help_of_every_command_imports_nothing_heavy(tmp_path: Path) -> None:
    each = f"for words in {list(TREE)!r}: assert run(logbook, [*words.split(), '-h']) == 0"
    code = TELL_HEAVY.replace("from logbook.cli import main\nmain()\n", "")
    ran = program(
        folder=tmp_path,
        code=f"{code}from logbook.cli import logbook\nfrom logbook.cli.failures import run\n{each}",
    )
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.count("Examples:") >= len(leaves())
    assert "loaded [] own" in ran.stderr
    for room in ("ledger", "projections", "answers", "entries", "recording", "sheets"):
        assert f"'logbook.{room}" not in ran.stderr


@pytest.mark.parametrize(
    ("shell", "line", "expected"),
    [
        ("bash", "logbook ", "absorbent"),
        ("bash", "logbook case ", "begin"),
        ("bash", "logbook case log --", "--began"),
        ("zsh", "logbook case ", "begin"),
        ("fish", "logbook case ", "begin"),
    ],
)
def test_completion_imports_nothing_heavy(
    shell: str, line: str, expected: str, tmp_path: Path
) -> None:
    words = line.split(" ")
    ran = program(
        folder=tmp_path,
        code=TELL_HEAVY.replace("main()\n", "sys.argv[0] = 'logbook'; main()\n"),
        _LOGBOOK_COMPLETE=f"{shell}_complete",
        COMP_WORDS=line,
        COMP_CWORD=words[-1] if shell == "fish" else str(len(words) - 1),
    )
    assert ran.returncode == 0, ran.stderr
    assert "loaded [] own" in ran.stderr
    assert expected in ran.stdout


def test_completion_scripts_name_the_program(tmp_path: Path) -> None:
    for shell in ("zsh", "fish"):  # That of bash asks the version of an installed bash.
        ran = program(folder=tmp_path, _LOGBOOK_COMPLETE=f"{shell}_source")
        assert ran.returncode == 0
        assert "_LOGBOOK_COMPLETE" in ran.stdout


def test_the_version_is_one_line(tmp_path: Path) -> None:
    from logbook import __version__

    ran = program("--version", folder=tmp_path)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout == f"logbook, version {__version__}\n"


def test_without_arguments_and_without_a_terminal_one_sentence_says_what_to_do(
    tmp_path: Path,
) -> None:
    ran = program(folder=tmp_path)
    assert (ran.returncode, ran.stdout) == (2, "")
    assert ran.stderr == "Not done, nothing saved: name a command; logbook --help lists them.\n"


@pytest.mark.parametrize("words", GROUPS)
def test_a_group_without_its_command_shows_what_there_is(words: str, run_logbook: Command) -> None:
    ran = run_logbook(*words.split())
    assert ran.code == 2
    group = TREE[words]
    assert isinstance(group, click.Group)
    for name in group.commands:
        assert f"  {name} " in ran.out


def squeezed(text: str) -> str:
    """The text without what laying it out may add or drop: blanks, line ends, and commas where a
    table became lines."""
    return re.sub(r"[\s,]+", "", text)


@pytest.fixture
def week(bay1: Command, monkeypatch: pytest.MonkeyPatch) -> Command:
    """A clinic with something to show on every screen, with long words and names."""
    monkeypatch.setenv("NO_COLOR", "1")
    for line in (
        ("machine", "add", "machine-in-imaging-24tag", "--location", "imaging room 2"),
        ("staff", "add", "RT", "Rosalind Tamayo-Featherstonehaugh"),
        ("vaporizer", "add", "sevo1", "--agent", "sevoflurane", "--capacity", "250ml"),
        ("absorbent", "change", "bay1", "--at", "2026-03-02 07:30", "--old", "w" * 90),
        (
            *("case", "log", "bay1", "--began", "2026-03-02 08:10", "--ran", "9h35"),
            *("--circuit", "adult", "--weight", "24kg", "--flow", "1L/min", "--dial", "2"),
        ),
        (
            "service",
            "plan",
            "iso1",
            "output verification",
            "--every",
            "P12M",
            "--last",
            "2025-01-20",
        ),
        (
            "fault",
            "report",
            "bay1",
            "leak",
            "--detail",
            "hose\x1b[31m red \u202e",
            "--out-of-service",
        ),
        ("note", "caster\tsqueaks, see https://example.org/" + "a" * 60, "--on", "bay1"),
        ("correct", "9", "--withdraw", "--because", "wrong machine, told by the day lead"),
        ("rule", "set", "leak-flow", "150", "--machine", "bay1", "--because", "maker's manual"),
    ):
        ran = bay1(*line)
        assert ran.saved, ran.err
    return bay1


SCREENS = {
    "due": ("due", "--all"),
    "board": ("board",),
    "history": ("history", "bay1"),
    "rules": ("rule", "list", "--sources"),
    "cases": ("case", "list"),
    "no case": ("case", "list", "--since", "2026-03-06"),
    "ready": ("ready", "bay1"),
    "machines": ("machine", "list"),
    "machine": ("machine", "show", "machine-in-imaging-24tag"),
    "vaporizers": ("vaporizer", "list"),
    "vaporizer": ("vaporizer", "show", "iso1"),
    "services": ("service", "list"),
    "people": ("staff", "list"),
    "lists": ("checklist", "list"),
    "list": ("checklist", "show", "daily"),
    "setup": ("setup", "--weight", "12kg", "--machine", "bay1"),
    "left": ("oxygen", "left", "--size", "E", "--gauge", "1500psi", "--flow", "2L/min"),
    "use": (
        *("agent", "use", "--agent", "isoflurane", "--dial", "2"),
        *("--flow", "1L/min", "--for", "60min"),
    ),
}


@pytest.mark.parametrize("columns", [80, 40, NARROWEST])
def test_no_line_is_wider_than_the_terminal_and_nothing_is_lost(
    week: Command, columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, line in SCREENS.items():
        monkeypatch.setenv("COLUMNS", "10000")
        wide = week(*line)
        monkeypatch.setenv("COLUMNS", str(columns))
        narrow = week(*line)
        assert (narrow.code, narrow.err) == (wide.code, ""), name
        lines = narrow.out.splitlines()
        assert max(map(len, lines)) <= columns, name
        assert all(line.isprintable() for line in lines), name
        assert squeezed(narrow.out) == squeezed(wide.out), name
        assert len(squeezed(wide.out)) > 20, name


@pytest.mark.parametrize("columns", [40, NARROWEST])
def test_what_was_saved_is_told_within_the_terminal(
    week: Command, columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    ran = week("fault", "report", "iso1", "tipped", "--detail", "fell over on the cart")
    assert max(map(len, ran.out.splitlines())) <= columns
    assert "OUT OF SERVICE" in " ".join(ran.out.split())


def test_a_number_keeps_its_unit_at_the_end_of_a_line(
    week: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    for columns in range(NARROWEST, 90, 5):
        monkeypatch.setenv("COLUMNS", str(columns))
        for line in week("case", "list").out.splitlines():
            assert not re.match(r"\s+(kg|L/min|%|h|min)\b", line), (columns, line)


@pytest.mark.parametrize(
    ("terminal", "more", "is_struck"),
    [
        (True, {}, True),
        (True, {"NO_COLOR": "1"}, False),
        (True, {"NO_COLOR": ""}, False),
        (True, {"TERM": "dumb"}, False),
        (False, {}, False),
    ],
)
def test_a_withdrawn_entry_is_struck_through_only_where_a_terminal_can(
    terminal: bool, more: dict[str, str], is_struck: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    from logbook.cli.terminal import struck

    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for name, value in more.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: terminal)
    assert struck("9 bay1") == ("\x1b[9m9 bay1\x1b[29m" if is_struck else "9 bay1")


def test_no_screen_needs_colour(week: Command) -> None:
    for line in SCREENS.values():
        assert "\x1b" not in week(*line).out


SAFE = re.compile(r"\bsafe(ly|r)?\b", re.IGNORECASE)
"""What the logbook never says of a machine. The safety relief valve is the name of a part."""


def test_no_screen_says_safe(week: Command) -> None:
    for line in SCREENS.values():
        assert not SAFE.search(week(*line).out), line
    for words in ("", *TREE):
        assert not SAFE.search(help_of(words)), words


def test_python_runs_the_logbook_by_its_module_too() -> None:
    by_module = [sys.executable, "-m", "logbook", "due", "--nonsense"]
    done = subprocess.run(by_module, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    refusal = "Not done, nothing saved: there is no option --nonsense here; known are "
    assert done.stderr.startswith(refusal)


@pytest.mark.parametrize("words", ["", *TREE])
def test_help_is_as_narrow_as_the_terminal_and_breaks_between_words(
    words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    too_wide = [line for line in help_of(words).splitlines() if len(line) > 40]
    assert [line for line in too_wide if " " in line.strip()] == []
