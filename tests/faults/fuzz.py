"""Command lines that nobody would type, made by chance out of what each command takes."""

import contextlib
import os
import random
import shutil
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest import mock

import click
from click.testing import CliRunner

from logbook.cli import main
from logbook.page import server
from tests.cli.commandtree import leaves

DOCUMENTED = {0, 1, 2, 3, 4, 5, 6}
SAVED = {0, 3}
LIKELY = (
    "bay1", "bay2", "iso1", "iso2", "daily", "monthly-hoses", "2026-03-02 08:10", "7:10", "now",
    "yesterday 7:10", "2026-03-02", "1h35", "95 min", "24kg", "1L/min", "2", "1500psi", "240ml",
    "815g", "passed", "failed", "leak", "tipped", "P6M", "P12M", "5", "9", "12", "isoflurane",
    "absorbent-hours", "KO", "worn hose", "America/Denver", "cases.csv", "answers.json",
    "list.toml", "old.ledger", "copy.ledger", "friday.checkpoint", "new.checkpoint", "detail=x",
)  # fmt: skip
"""Values of which each is right somewhere."""
ODD = (
    "", " ", "-", "--", "-1", "--json", "-h", "nan", "inf", "1e309", "0x10", "1_000", "٧", "२४kg",
    "１２", "1,5", "½", "9" * 400, "-0", "0", "99999999999999999999", "2026-02-30", "0000-00-00",
    "9999-12-31 23:59", "2026-03-08 02:30", "24:00", "é", "İ", "ß", "日本", "\u202e", "\ud83d",
    "\udcff\udcfe", "a\nb", "\t", "\x1b[31m", "'", '"; DROP TABLE entry; --', "%s%n", "../../etc",
    "a" * 5000, "=", "a=b=c", "{}", "[" * 2000, "null", "true", "𝟙", "x\u0301" * 50,
)  # fmt: skip
FILES = {
    "cases.csv": "machine,began,ran,circuit\nbay1,2026-02-03 08:00,1h,adult\n",
    "answers.json": '{"bag": {"state": "not done", "reason": "no time"}}',
    "list.toml": 'name = "ours"\nversion = 1\n',
    "friday.checkpoint": "gas-machine logbook checkpoint\nentries: 3\n",
}
NULL_BYTE = "a\0b"


@dataclass
class Fuzzed:
    """The exit codes of many runs, and every run that broke a promise."""

    codes: Counter[int] = field(default_factory=Counter)
    broken: list[str] = field(default_factory=list)


def command_line(words: str, chance: random.Random) -> list[str]:
    """One command with some of its options, in any order, each with some value."""
    parts = [
        part
        for param in leaves()[words].params
        if isinstance(param, click.Argument) or chance.random() < 0.5
        for part in _parts(param, chance)
    ]
    if chance.random() < 0.1:
        parts.append([chance.choice(("--nothing", "--as-of", "-x", "--help", "extra", "--"))])
    chance.shuffle(parts)
    before = ["--ledger", chance.choice(("new.ledger", "", "."))] if chance.random() < 0.05 else []
    return [*before, *words.split(), *(word for part in parts for word in part)]


def _parts(param: click.Parameter, chance: random.Random) -> Iterator[list[str]]:
    """A parameter as it may stand on a command line; an option may come twice."""
    if isinstance(param, click.Argument):
        if chance.random() < 0.95:
            yield [_value(param, chance) for _ in range(max(1, param.nargs))]
        return
    name = chance.choice([*param.opts, *param.secondary_opts])
    for _ in range(2 if chance.random() < 0.1 else 1):
        values = 0 if getattr(param, "is_flag", False) else param.nargs
        yield [name, *(_value(param, chance) for _ in range(values))]


def _value(param: click.Parameter, chance: random.Random) -> str:
    if isinstance(param.type, click.Choice) and chance.random() < 0.8:
        return str(chance.choice(list(param.type.choices)))
    drawn = chance.random()
    if drawn < 0.6:
        return chance.choice(LIKELY)
    if drawn < 0.65 and not isinstance(param.type, click.Path | click.File):
        return NULL_BYTE  # No system hands this over, but a caller in Python may.
    if drawn < 0.95:
        return chance.choice(ODD)
    return "".join(chr(chance.choice((chance.randrange(1, 128), chance.randrange(1, 55_000))))
                   for _ in range(chance.randrange(40)))  # fmt: skip


def garbage(chance: random.Random) -> bytes:
    """What may stand on standard input."""
    return chance.choice((b"", b"y\n" * 5, b"\xff\xfe\x00", b"[" * 5000, chance.randbytes(300)))


def fuzz(words: str, runs: int, seed: str, ledger: Path) -> Fuzzed:
    """Run a command so often, each time on the same ledger, inside of this process."""
    chance, done = random.Random(seed), Fuzzed()  # noqa: S311  Faults are drawn.
    with tempfile.TemporaryDirectory() as name, contextlib.chdir(name):
        desk = Desk(Path(name), ledger)
        for _ in range(runs):
            line = command_line(words, chance)
            environment = {
                "LOGBOOK_LEDGER": "clinic.ledger",
                "XDG_CONFIG_HOME": str(Path(name) / "config"),
                "COLUMNS": chance.choice(("20", "80", "1", "0", "wide")),
                "NO_COLOR": chance.choice(("", "1")),
                "LOGBOOK_BY": chance.choice(("KO", "KO", "KO", "", "ÉÉ")),
            }
            with mock.patch.dict(os.environ, environment):
                code, told = run_here(line, garbage(chance))
            done.codes[code] += 1
            wrong = desk.looked_at(code, told)
            if wrong:
                done.broken.append(f"{wrong}: {line!a}\n{told}")
    return done


class Desk:
    """A folder with a ledger and a few files, set right again after each run."""

    def __init__(self, folder: Path, ledger: Path) -> None:
        self._folder, self._whole = folder, ledger.read_bytes()
        self._set()

    def _set(self) -> None:
        for one in self._folder.iterdir():
            shutil.rmtree(one) if one.is_dir() else one.unlink()
        for name in ("clinic.ledger", "old.ledger"):
            (self._folder / name).write_bytes(self._whole)
        for name, text in FILES.items():
            (self._folder / name).write_text(text)

    def looked_at(self, code: Any, told: str) -> str:
        """The promise that a run broke, or nothing."""
        names = {one.name for one in self._folder.iterdir()}
        path = self._folder / "clinic.ledger"
        same = path.is_file() and path.read_bytes() == self._whole
        if not same or names - FILES.keys() - {"clinic.ledger", "old.ledger", "config"}:
            self._set()
        if code not in DOCUMENTED:
            return f"undocumented exit {code}"
        if "Traceback" in told:
            return "a traceback"
        if code not in SAVED and not same:
            return f"exit {code}, and the ledger was changed"
        return "" if told or code in SAVED else "no word of what is wrong"


def run_here(line: list[str], stdin: bytes) -> tuple[Any, str]:
    """The whole program inside of this process; answer its exit code and what it said."""
    with (
        mock.patch.object(sys, "argv", ["logbook", *line]),
        mock.patch.object(server.Server, "serve"),  # A page answers until somebody stops it.
        CliRunner().isolation(input=stdin) as (out, err, _),
    ):
        try:
            main()
            code: Any = "none"
        except SystemExit as stop:
            code = stop.code
        except BaseException:
            return "exception", traceback.format_exc()
        sys.stdout.flush()
        said = (out.getvalue() + err.getvalue()).decode("utf-8", "backslashreplace")
    return code, said
