"""Prints the oldest version of each dependency that pyproject.toml allows, as pip's constraints."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads(Path("pyproject.toml").read_text("utf-8"))["project"]
for wanted in [*project["dependencies"], *project["optional-dependencies"]["test"]]:
    name, floor = re.fullmatch(r"([\w-]+)>=([\d.]+)(?:,<[\d.]+)?", wanted).groups()
    print(f"{name}=={floor}")
