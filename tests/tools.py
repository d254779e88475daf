"""Programs of the system that some tests need: skipped without, unless all are asked for; and
patience with what another process does."""

import os
import shutil
import time
from collections.abc import Callable

import pytest

PATIENCE_S = 120
"""Whatever comes for certain comes by then, also on a busy machine."""


def tool(name: str) -> str:
    """The path of a program; the test is skipped where it is missing, and fails there where the
    environment says ``TOOLS=all``."""
    found = shutil.which(name)
    if found is None:
        assert os.environ.get("TOOLS") != "all", f"{name} is missing"
        pytest.skip(f"{name} is not installed")
    return found


def waited(holds: Callable[[], bool]) -> None:
    """Wait until something holds."""
    until = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < until
        time.sleep(0.05)
