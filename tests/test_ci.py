"""What a run before a landing starts outside pytest is tried inside it, so that it fails early."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_the_week_in_eight_lines_runs_with_the_program_as_installed(tmp_path: Path) -> None:
    # The week once broke a landing after every test had passed: its codes had changed meanwhile.
    program = Path(sys.executable).with_name("logbook")
    env = {**os.environ, "HOME": str(tmp_path), "XDG_STATE_HOME": str(tmp_path / "state")}
    env.pop("LOGBOOK_LEDGER", None)
    ran = subprocess.run(
        ["bash", ROOT / ".ci" / "week", program, tmp_path / "week.ledger"],
        capture_output=True,
        text=True,
        env=env,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
