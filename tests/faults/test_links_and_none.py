"""Killed at any call, a command loses nothing where the ledger is reached through a link, and where
the disk knows no links at all, as that of a camera's card."""

import errno
import os
import random
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import replace
from pathlib import Path

import pytest

from tests.faults.bench import Place
from tests.faults.commands import BY_NAME, Writing, begin_of
from tests.faults.trials import all_of, breaches_of, drawn, kill, record_calls

LINK = ("--ledger", "{desk}/../link.ledger")
THROUGH = ("note", "case log", "import", "backup", "restore", "rebuild")


@pytest.fixture
def linked(clinics: Path, tmp_path: Path) -> Place:
    """The clinic, and a link that leads to its ledger from another folder."""
    start = Place(clinics / "clinic").copy(tmp_path / "start")
    (start.folder / "link.ledger").symlink_to(Path("desk") / "clinic.ledger")
    return start


@pytest.mark.parametrize("name", THROUGH)
def test_a_command_through_a_link_that_is_killed_at_any_call_loses_nothing(
    benches: Executor, linked: Place, tmp_path: Path, name: str, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    command = BY_NAME[name]
    command = replace(command, words=(*LINK, *command.words))
    breaches, told = killed(benches, linked, tmp_path, command, size, chance, None)
    report(f"kill through a link, {name}: {told}")
    assert not breaches, "\n".join(breaches)


def no_links() -> None:
    """From here on this process works on a disk without links."""

    def refuse(*_names: object, **_more: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    os.link = refuse


@pytest.mark.parametrize("name", ["new", "backup", "restore"])
def test_on_a_disk_without_links_a_name_is_given_to_a_whole_file_or_not_at_all(
    benches: Executor, clinics: Path, tmp_path: Path, name: str, size: str,
    chance: random.Random, report: Callable[[str], None],
) -> None:  # fmt: skip
    command = BY_NAME[name]
    start = begin_of(command, clinics)
    breaches, told = killed(benches, start, tmp_path, command, size, chance, no_links)
    report(f"kill on a disk without links, {name}: {told}")
    assert not breaches, "\n".join(breaches)


def killed(
    benches: Executor, start: Place, folder: Path, command: Writing, size: str,
    chance: random.Random, change: Callable[[], None] | None,
) -> tuple[list[str], str]:  # fmt: skip
    """The breaches of killing a command at its calls, and what to report."""
    one = benches.submit(record_calls, start, folder / "calls", command, saying=True, change=change)
    recording = one.result()
    numbers = drawn(recording.calls, size, chance, quick=2)
    jobs = [(start, folder / f"kill-{number}", recording, number, change) for number in numbers]
    outcomes = all_of(benches, kill, jobs)
    breaches = breaches_of(outcomes)
    saved = sum(bool(outcome.after.saved) for outcome in outcomes)
    return breaches, (
        f"at {len(outcomes)} of {len(recording.calls)} calls, {saved} after the change was whole, "
        f"{len(breaches)} breaches"
    )
