"""The same words again: a retry is recognised, a second entry on purpose is one.

And what the program keeps for itself beside ledger and person: whatever lies there hinders nobody.
"""

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from logbook.checklists import builtin
from logbook.recording.retry import KEPT_S
from tests.conftest import Ran
from tests.faults.oracle import entries

PROGRAM = [sys.executable, "-c", "from logbook.cli import main; main()"]
TOO_LONG_S = 60
"""A command that waits so long waits for ever."""
FULL, CLOSED, ONE_LINE, NOBODY = ">/dev/full", ">&-", "| head -1", "| true"


@dataclass(frozen=True)
class Person:
    """Somebody who types commands into a shell."""

    ledger: Path
    home: str
    by: str = "KO"

    def types(self, *words: str, then: str = "") -> Ran:
        """A command, and what the shell does with its output."""
        line = f'"$@" {then}' + ('; exit "${PIPESTATUS[0]}"' if then.startswith("|") else "")
        ran = subprocess.run(
            ["bash", "-c", line, "bash", *PROGRAM, *words],
            env={
                **os.environ, "LOGBOOK_LEDGER": str(self.ledger), "LOGBOOK_BY": self.by,
                "XDG_CONFIG_HOME": self.home,
            },
            capture_output=True, text=True, check=False, timeout=TOO_LONG_S,
        )  # fmt: skip
        assert "Traceback" not in ran.stderr, ran.stderr
        return Ran(ran.returncode, ran.stdout, ran.stderr)

    def count(self) -> int:
        """How many entries stand in the ledger."""
        return len(entries(self.ledger))

    def left(self) -> list[Path]:
        """What lies beside the ledger."""
        return [
            one for one in self.ledger.parent.iterdir() if one.name.startswith("clinic.ledger.")
        ]


@pytest.fixture
def person(bay1: Callable[..., Ran], ledger: Path, tmp_path: Path) -> Person:
    return Person(ledger, str(tmp_path / "config"))


GAUGE = ("oxygen", "read", "bay1", "--cylinder", "1500psi")


def once(person: Person, *words: str) -> int:
    """Save an entry without being told; answer its number."""
    before = person.count()
    ran = person.types(*words, then=FULL)
    assert ran.code == 1
    assert "Saved, but what was saved could not be shown" in ran.err
    assert person.count() == before + 1
    return before + 1


def is_recognised(person: Person, seq: int, *words: str) -> None:
    again = person.types(*words)
    assert (again.saved, again.err) == (True, "")
    said = " ".join(again.out.split())
    assert said.startswith(f"Already recorded as entry {seq} at 20"), said
    assert "If this is another one, add --again." in said
    assert person.count() == seq


@pytest.mark.parametrize("then", [FULL, CLOSED, ">/dev/full 2>&1", ">&- 2>&-"])
def test_what_was_saved_and_not_shown_is_recognised_when_it_is_typed_again(
    person: Person, then: str
) -> None:
    before = person.count()
    assert person.types(*GAUGE, then=then).code == 1
    is_recognised(person, before + 1, *GAUGE)
    assert person.types(*GAUGE).out.startswith(f"Saved entry {before + 2}: ")
    assert person.left() == []


def test_another_entry_of_the_same_words_is_added_where_the_person_says_so(
    person: Person,
) -> None:
    seq = once(person, *GAUGE)
    assert person.types(*GAUGE, "--again").out.startswith(f"Saved entry {seq + 1}: ")
    assert person.left() == []


@pytest.mark.parametrize("then", [ONE_LINE, NOBODY])
@pytest.mark.parametrize("words", [GAUGE, ("agent", "fill", "iso1", "--added", "10ml")])
def test_a_reader_who_leaves_swallows_no_entry(
    person: Person, words: tuple[str, ...], then: str
) -> None:
    before = person.count()
    codes = [person.types(*words, then=then).code for _ in range(3)]
    assert (codes, person.count()) == ([0, 0, 0], before + 3)
    assert person.left() == []


def test_a_retry_is_recognised_where_nothing_can_be_kept_in_the_persons_folder(
    person: Person,
) -> None:
    homeless = replace(person, home="/proc/nowhere")
    is_recognised(homeless, once(homeless, *GAUGE), *GAUGE)


def test_a_retry_is_recognised_by_another_name_of_the_ledger(
    person: Person, tmp_path: Path
) -> None:
    seq = once(person, *GAUGE)
    (tmp_path / "elsewhere").mkdir()
    link = tmp_path / "elsewhere" / "linked.ledger"
    link.symlink_to(person.ledger)
    is_recognised(replace(person, ledger=link), seq, *GAUGE)


def test_a_retry_is_recognised_though_its_options_stand_in_another_order(person: Person) -> None:
    seq = once(person, "oxygen", "read", "bay1", "--pipeline", "50psi", "--cylinder", "1500psi")
    is_recognised(
        person, seq, "oxygen", "read", "--cylinder", "1500psi", "bay1", "--pipeline", "50 psi"
    )


def test_a_retry_is_recognised_though_the_clock_stepped_back(person: Person) -> None:
    seq = once(person, *GAUGE)
    (kept,) = person.left()
    os.utime(kept, (time.time() + 86_400,) * 2)
    is_recognised(person, seq, *GAUGE)


def test_a_case_that_was_ended_and_not_told_is_recognised_when_it_is_ended_again(
    person: Person,
) -> None:
    # Begun and ended within one second the case would have no length, and be refused.
    began = ("--at", "yesterday 23:59")
    assert person.types("case", "begin", "bay1", "--pop-off", "open", *began).saved
    words = ("case", "end", "bay1", "--ran", "1min")
    is_recognised(person, once(person, *words), *words)
    assert "no case runs on bay1" in person.types("case", "end", "bay1").err


def test_a_correction_from_the_ledger_is_recognised(person: Person) -> None:
    noted = once(person, "note", "caster squeaks")
    words = ("correct", str(noted), "--set", "text=wheel squeaks", "--because", "slip")
    is_recognised(person, once(person, *words), *words)


def test_another_persons_same_words_are_an_entry_of_their_own(person: Person) -> None:
    assert person.types("staff", "add", "RT", "Night technician").code == 0
    seq = once(person, *GAUGE)
    other = replace(person, by="RT", home=f"{person.home}-of-RT")
    assert other.types(*GAUGE).out.startswith(f"Saved entry {seq + 1}: ")


def test_what_nobody_asked_for_in_time_is_taken_away_and_is_no_retry(person: Person) -> None:
    seq = once(person, *GAUGE)
    (kept,) = person.left()
    os.utime(kept, (time.time() - KEPT_S - 1,) * 2)
    assert person.types("note", "something else").code == 0
    assert person.left() == []
    assert person.types(*GAUGE).out.startswith(f"Saved entry {seq + 2}: ")


def test_a_refusal_keeps_nothing(person: Person) -> None:
    before = person.count()
    for words in (("note", "x", "--at", "2099-01-01 10:00"), ("case", "end", "bay1")):
        assert person.types(*words).code == 2
    assert (person.left(), person.count()) == ([], before)


@pytest.mark.parametrize(
    "words", [("due",), ("history", "bay1", "--json"), ("--help",), ("board",)]
)
@pytest.mark.parametrize("then", [FULL, CLOSED])
def test_a_question_without_an_output_is_one_sentence(
    person: Person, words: tuple[str, ...], then: str
) -> None:
    ran = person.types(*words, then=then)
    assert (ran.code, ran.out) == (5, "")
    assert ran.err.startswith("Not done, nothing saved: "), ran.err
    assert ran.err.count("\n") == 1


# What the program keeps for itself

SHAPES: dict[str, Callable[[Path], None]] = {
    "nothing": lambda path: path.write_text(""),
    "Infinity": lambda path: path.write_text('{"entries": Infinity, "head": Infinity}'),
    "an exponent": lambda path: path.write_text('{"entries": 1e999, "head": 1e999}'),
    "a huge number": lambda path: path.write_text(
        json.dumps({"entries": 10**40, "head": "ab" * 32, "ledger": 10**40})
    ),
    "below nothing": lambda path: path.write_text(json.dumps({"entries": -1, "head": "ab" * 32})),
    "nested": lambda path: path.write_text("[" * 9_000),
    "nested and long": lambda path: path.write_text("[" * 9_000_000),
    "a list": lambda path: path.write_text("[1]"),
    "lists inside": lambda path: path.write_text('{"entries": [], "head": {}, "ledger": []}'),
    "no text": lambda path: path.write_bytes(bytes(range(256))),
    "a surrogate": lambda path: path.write_text(
        '{"entries": 2, "head": "\\ud800", "ledger": "\\ud800"}'
    ),
    "a pipe": os.mkfifo,
    "a folder": lambda path: path.mkdir(),
    "a dead link": lambda path: path.symlink_to("nowhere"),
    "a link to itself": lambda path: path.symlink_to(path),
    "unending": lambda path: path.symlink_to("/dev/zero"),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_whatever_lies_where_the_program_keeps_something_hinders_no_command(
    person: Person, shape: str
) -> None:
    once(person, *GAUGE)
    kept = [*person.left(), *(Path(person.home) / "gas-machine-logbook" / "seen").iterdir()]
    assert len(kept) == 3
    for one in kept:
        one.unlink()
        SHAPES[shape](one)
    before = person.count()
    assert person.types("due").code in (0, 3)
    ran = person.types(*GAUGE)
    assert (ran.code, person.count()) == (0, before + 1), ran.err


# Another ledger under the same name


@pytest.fixture
def swapped(person: Person, founded: Path) -> Person:
    """The person used the ledger here; then another one was put in its place."""
    assert person.types("due").err == ""
    shutil.copy(founded, person.ledger.with_name("kept.ledger"))
    person.ledger.rename(person.ledger.with_name("old.ledger"))
    away = replace(person, ledger=person.ledger.with_name("other.ledger"))
    assert away.types("new", "Other Creek", "--timezone", "UTC").code == 0
    assert away.types("staff", "add", "KO", "Day lead").code == 0
    away.ledger.rename(person.ledger)
    return person


def test_another_ledger_under_the_same_name_is_told_at_every_use(swapped: Person) -> None:
    for words in (("due",), ("note", "x"), ("due",)):
        ran = swapped.types(*words)
        assert ran.code in (0, 3)
        assert ran.err == (
            f"Another ledger lay at {swapped.ledger} when it was used here before; "
            "restore the newest copy, or ask who changed it.\n"
        )


def test_another_ledger_that_a_restore_brought_in_is_known(swapped: Person) -> None:
    copy = swapped.ledger.with_name("copy.ledger")
    assert swapped.types("backup", str(copy)).code == 0
    assert swapped.types("restore", str(copy), "--go", "--because", "a clinic of our own").code == 0
    assert swapped.types("due").err == ""


def test_a_new_ledger_where_another_one_lay_asks_why_and_records_it(person: Person) -> None:
    words = ("new", "Alder Creek", "--timezone", "UTC")
    assert person.types("due").err == ""
    person.ledger.unlink()
    refused = person.types(*words)
    assert (refused.code, refused.out) == (2, "")
    assert f"another ledger lay at {person.ledger} when it was used here before" in refused.err
    assert not person.ledger.exists()
    assert person.types(*words, "--because", "the disk died").code == 0
    assert person.types("due").err == ""
    assert json.loads(str(entries(person.ledger)[0][8]))["reason"] == "the disk died"


def test_answers_that_hold_half_a_character_are_refused(person: Person, tmp_path: Path) -> None:
    file = tmp_path / "answers.json"
    for half in ({"reason": "no \ud800 time"}, {"reason": "x", "\udfff": "y"}, {"state": "\ud800"}):
        answers = {one.key: {"state": "not done"} | half for one in builtin("daily").items}
        file.write_text(json.dumps(answers))
        ran = person.types("check", "bay1", "--answers", str(file))
        assert (ran.code, ran.out) == (2, ""), ran


# What a file's name does to a terminal


def test_a_files_name_is_shown_and_never_obeyed(person: Person, tmp_path: Path) -> None:
    odd = replace(person, ledger=tmp_path / "\x1b[31mred\x07.ledger")
    said = [
        odd.types("due"),
        odd.types("new", "Alder Creek", "--timezone", "UTC"),
        odd.types("new", "Alder Creek", "--timezone", "UTC"),
        odd.types("backup", str(tmp_path / "\x1b]0;title\x07.copy")),
        odd.types("checkpoint", "--to", str(tmp_path / "\x9b2J.checkpoint")),
    ]
    assert [ran.code for ran in said] == [2, 0, 2, 0, 0]
    assert all("?" in ran.out + ran.err for ran in said)
    assert not any(sign in ran.out + ran.err for ran in said for sign in "\x1b\x07\x9b")


def test_an_empty_name_of_a_ledger_is_a_slip_wherever_it_stands(
    run_logbook: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch
) -> None:
    named = run_logbook("--ledger", "", "due")
    monkeypatch.setenv("LOGBOOK_LEDGER", "")
    for ran in (named, run_logbook("due")):
        assert (ran.code, ran.out) == (2, "")
        assert "is empty; name the ledger's file" in ran.err
