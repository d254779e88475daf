"""A disk that is full or broken at any call loses nothing, and the person is told so once."""

from pathlib import Path

import pytest

from tests.faults.commands import BY_NAME, begin_of
from tests.faults.everywhere import Everywhere


@pytest.mark.parametrize("name", ["case log", "import", "rebuild", "backup", "restore", "new"])
def test_a_disk_error_at_any_call_loses_nothing_and_is_told_in_one_sentence(
    everywhere: Everywhere, clinics: Path, name: str
) -> None:
    command = BY_NAME[name]
    start, commonest = begin_of(command, clinics), name == "case log"
    everywhere.failing(start, command, quick=1, thorough=commonest)
