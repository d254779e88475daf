"""Prints the oldest version of each dependency that pyproject.toml allows, as pip's constraints."""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

PROJECT = tomllib.loads(Path("pyproject.toml").read_text("utf-8"))["project"]


def of_extra(name: str) -> Iterator[str]:
    """What an extra needs, with what the extras need that it names."""
    for wanted in PROJECT["optional-dependencies"][name]:
        if inner := re.fullmatch(rf"{PROJECT['name']}\[(\w+)\]", wanted):
            yield from of_extra(inner[1])
        else:
            yield wanted


for wanted in [*PROJECT["dependencies"], *of_extra("test")]:
    name, floor = re.fullmatch(r"([\w-]+)(?:\[\w+\])?>=([\d.]+)(?:,<[\d.]+)?", wanted).groups()
    print(f"{name}=={floor}")
