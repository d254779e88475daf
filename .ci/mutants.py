"""Changes the program in one small place after another and asks whether a test notices.

    .venv/bin/python .ci/mutants.py ROOM [--take 300] [--seed 1] [--tests tests/cli ...]

ROOM is a folder or module under logbook/, such as ``answers`` or ``units``. The tests of the same
name and those of ``--tests`` run against each change that is taken by chance. Works on a copy, with
mutmut of the dev extra, and prints the changes that no test noticed.
"""

import argparse
import json
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
MUTMUT = Path(sys.executable).with_name("mutmut")
COPIED = ("logbook", "migrations", "sample_data", "tests", "README.md", "pyproject.toml")
SETTINGS = """
[tool.mutmut]
source_paths = ["logbook"]
only_mutate = {mutated}
do_not_mutate = [  # Tables that are built before the change is switched on.
    "logbook/arithmetic/constants.py",
    "logbook/projections/tables.py",
]
also_copy = ["migrations", "sample_data", "README.md"]
pytest_add_cli_args = ["-n", "0", "-p", "no:cacheprovider"]
pytest_add_cli_args_test_selection = {tests}
"""


def mutmut(copy: Path, *words: str) -> str:
    done = subprocess.run(
        [MUTMUT, *words],
        cwd=copy,
        check=False,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    return done.stdout


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("room")
    parser.add_argument("--take", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tests", nargs="*", default=[])
    said = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in COPIED:
            here, there = ROOT / name, copy / name
            (shutil.copytree if here.is_dir() else shutil.copy)(here, there)
        whole_room = (copy / "logbook" / said.room).is_dir()
        mutated = [f"logbook/{said.room}/*" if whole_room else f"logbook/{said.room}.py"]
        own = [f"tests/{said.room}"] if (copy / "tests" / said.room).is_dir() else []
        with (copy / "pyproject.toml").open("a") as file:
            file.write(SETTINGS.format(mutated=mutated, tests=[*own, *said.tests]))
        # The first run only makes the changes and learns which tests reach them.
        first = mutmut(copy, "run", "none of them")
        made = sorted(
            name
            for meta in (copy / "mutants" / "logbook").rglob("*.meta")
            for name in json.loads(meta.read_text())["exit_code_by_key"]
        )
        if not made:
            sys.exit(first)
        taken = random.Random(said.seed).sample(made, min(said.take, len(made)))
        second = mutmut(copy, "run", *taken)
        ends = dict(
            line.strip().split(": ")
            for line in mutmut(copy, "results", "--all", "true").splitlines()
            if ": " in line and not line.endswith(": not checked")
        )
        if not ends.keys() & set(taken):
            sys.exit(f"nothing was tried:\n{second}")
        alive = [name for name in taken if ends.get(name) in ("survived", "no tests")]
        judged = [name for name in taken if name in ends]
        for name in sorted(alive):
            print(f"{ends[name]}: {name}")
            print(
                *[
                    f"    {line}"
                    for line in mutmut(copy, "show", name).splitlines()
                    if line[:1] in "+-" and line[:3] not in ("+++", "---")
                ],
                sep="\n",
            )
        print(f"{said.room}: {len(made)} changes, {len(judged)} tried, {len(alive)} not noticed")


main()
