"""Folders that come with the program: in the installed package, else beside it in the checkout."""

from importlib import resources
from pathlib import Path


def folder(name: str) -> Path:
    """The folder ``name`` that was installed with the package, else that of the checkout."""
    installed = Path(str(resources.files("logbook"))) / name
    return installed if installed.is_dir() else installed.parents[1] / name
