"""A writing command that is killed at any of its calls loses nothing and hinders nobody."""

from pathlib import Path

import pytest

from tests.faults.commands import COMMANDS_THAT_WRITE, Writing, begin_of
from tests.faults.everywhere import Everywhere


@pytest.mark.parametrize("command", COMMANDS_THAT_WRITE, ids=lambda command: command.name)
def test_a_command_killed_at_any_call_loses_nothing_and_is_finished_by_typing_it_again(
    everywhere: Everywhere, clinics: Path, command: Writing
) -> None:
    everywhere.killed(begin_of(command, clinics), command, quick=1)
