"""Programs of the system that some tests need: skipped without, unless all are asked for."""

import os
import shutil

import pytest


def tool(name: str) -> str:
    """The path of a program; the test is skipped where it is missing, and fails there where the
    environment says ``TOOLS=all``."""
    found = shutil.which(name)
    if found is None:
        assert os.environ.get("TOOLS") != "all", f"{name} is missing"
        pytest.skip(f"{name} is not installed")
    return found
