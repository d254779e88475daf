"""An evidence pack in the hands of somebody who has Python alone: it verifies, and it answers."""

import csv
import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.outside.audit_by_hand import Found, audit_list

HERE = Path(__file__).parent
SAMPLE = HERE.parents[1] / "sample_data"
ALONE = [sys.executable, "-I", "-S"]
"""Python without this project and without anything that was installed beside it."""


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The evidence of the demo's last whole month, as the installed program writes it."""
    home = tmp_path_factory.mktemp("home")
    program = shutil.which("logbook", path=str(Path(sys.executable).parent))
    assert program is not None
    world = {name: value for name, value in os.environ.items() if not name.startswith("LOGBOOK_")}
    world |= {"HOME": str(home), "XDG_CONFIG_HOME": str(home), "APPDATA": str(home)}
    made = subprocess.run([program, "demo", home], capture_output=True, env=world, check=False)
    assert made.returncode == 0, made.stderr
    words = ("export", "evidence", home / "pack", "--from", "2026-02-01", "--to", "2026-02-28")
    line = [program, "--ledger", home / "demo.ledger", *words]
    ran = subprocess.run(line, capture_output=True, env=world, check=False)
    assert ran.returncode == 0, ran.stderr
    return home / "pack"


def verified(pack: Path, *more: str) -> subprocess.CompletedProcess[str]:
    line = [*ALONE, "verify_standalone.py", ".", *more]
    return subprocess.run(line, cwd=pack, capture_output=True, text=True, check=False)


def answered(pack: Path) -> list[dict[str, Any]]:
    line = [*ALONE, str(HERE / "answer_from_pack.py"), str(pack)]
    ran = subprocess.run(line, capture_output=True, text=True, check=True)
    answer: list[dict[str, Any]] = json.loads(ran.stdout)
    return answer


def test_it_verifies(pack: Path) -> None:
    ran = verified(pack)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.startswith("Verified: ")


def test_it_tells_which_machine_ran_past_its_limit_in_which_cases_and_who_changed_it(
    pack: Path,
) -> None:
    """Held against the sample's files, counted with the standard library as well."""
    told = [
        one
        for one in answered(pack)
        if any(day.startswith("2026-02") for day, _, _ in one["cases"])
    ]
    cases = Counter(
        Found("case past absorbent limit", tag, tag, date.fromisoformat(day), (by,))
        for tag, day, by in (
            (one["machine"], day, by) for one in told for day, _, by in one["cases"]
        )
    )
    february = [one for one in audit_list(SAMPLE).elements() if one.day.month == 2]
    assert cases == Counter(one for one in february if one.finding == "case past absorbent limit")
    changed = sorted((one["machine"], *entry) for one in told for entry in one["changed"])
    assert [(tag, at, by) for tag, at, _, by in changed] == [
        ("bay1", "2026-02-13T14:04:00Z", "RT"),
        ("bay2", "2026-02-05T14:11:00Z", "JM"),
        ("bay2", "2026-02-11T14:12:00Z", "KO"),
        ("bay2", "2026-02-25T14:11:00Z", "KO"),
    ]


def test_the_report_and_the_tables_tell_the_same(pack: Path) -> None:
    page = (pack / "report.html").read_text("utf-8")
    for one in answered(pack):
        for day, entry, _ in one["cases"]:
            if day.startswith("2026-02"):
                assert f"case {entry} took the absorbent past its limit" in page
    # What was missed stands before everything else.
    assert page.index("case without check") < page.index("How much each machine ran")


@pytest.mark.parametrize("name", ["report.html", "tables/findings.csv", "README.txt"])
def test_a_file_that_was_changed_is_named(pack: Path, tmp_path: Path, name: str) -> None:
    copy = Path(shutil.copytree(pack, tmp_path / "copy"))
    (copy / name).write_bytes((copy / name).read_bytes() + b" ")
    ran = verified(copy)
    assert (ran.returncode, ran.stdout) == (
        4, f"NOT VERIFIED: files: {name} is not the one that was put there\n"
    )  # fmt: skip


@pytest.mark.parametrize(
    ("done", "said"), [("gone", "tables/due.csv is missing"), ("more", "new.csv is not listed")]
)
def test_a_file_that_is_missing_or_was_added_is_named(
    pack: Path, tmp_path: Path, done: str, said: str
) -> None:
    copy = Path(shutil.copytree(pack, tmp_path / "copy"))
    if done == "gone":
        (copy / "tables" / "due.csv").unlink()
    else:
        (copy / "new.csv").write_text("a\n")
    assert verified(copy).stdout == f"NOT VERIFIED: files: {said}\n"


def summed_anew(pack: Path, name: str, content: bytes) -> None:
    """Change a file, and the sums with it, as whoever forges a pack would."""
    old = hashlib.sha256((pack / name).read_bytes()).hexdigest()
    (pack / name).write_bytes(content)
    sums = pack / "SHA256SUMS"
    sums.write_text(sums.read_text().replace(old, hashlib.sha256(content).hexdigest()))


def test_an_entry_that_was_changed_is_named_though_the_sums_fit(pack: Path, tmp_path: Path) -> None:
    copy = Path(shutil.copytree(pack, tmp_path / "copy"))
    lines = (copy / "entries.jsonl").read_bytes().splitlines(keepends=True)
    [at] = [n for n, line in enumerate(lines) if b'"seq":389,' in line]
    lines[at] = lines[at].replace(b'"by":"JM"', b'"by":"KO"')
    summed_anew(copy, "entries.jsonl", b"".join(lines))
    assert verified(copy).stdout == "NOT VERIFIED: chain: entry 389 does not have its hash\n"


def without(pack: Path, copy: Path, gone: range) -> str:
    """A copy without these lines of its entries, summed anew; answers the head of the first."""
    lines = (pack / "entries.jsonl").read_bytes().splitlines(keepends=True)
    kept = [line for number, line in enumerate(lines) if number not in gone]
    shutil.copytree(pack, copy)
    summed_anew(copy, "entries.jsonl", b"".join(kept))
    head: str = json.loads(lines[gone[0]])["hash"]
    return head


def kept_sum(pack: Path) -> str:
    """What whoever made the pack was told, and kept elsewhere."""
    return hashlib.sha256((pack / "SHA256SUMS").read_bytes()).hexdigest()


@pytest.mark.parametrize("where", ["middle", "end"])
def test_entries_that_were_taken_out_are_noticed_by_what_was_kept_elsewhere_alone(
    pack: Path, tmp_path: Path, where: str
) -> None:
    """Entries may be missing, because a pack holds a part: so the README in it says."""
    count = len((pack / "entries.jsonl").read_bytes().splitlines())
    gone = range(count // 2, count // 2 + 1) if where == "middle" else range(count - 3, count)
    copy = tmp_path / "copy"
    head, told = without(pack, copy, gone), kept_sum(pack)
    for known in (head, told):
        assert verified(pack, known).returncode == 0
        ran = verified(copy, known)
        said = "it is neither a head in this pack nor the sum of its files"
        assert (ran.returncode, ran.stdout) == (4, f"NOT VERIFIED: checkpoint: {said}\n")
    alone = verified(copy)
    assert alone.returncode == 0
    assert alone.stdout.endswith(f"\nSHA-256 of SHA256SUMS: {kept_sum(copy)}\n")
    words = " ".join((pack / "README.txt").read_text("utf-8").split())
    assert "takes out one more, from the middle or from the end" in words


def test_a_pack_whose_checkpoint_was_cut_with_its_entries_verifies_but_for_a_kept_head(
    pack: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy"
    count = len((pack / "entries.jsonl").read_bytes().splitlines())
    head = without(pack, copy, range(count - 3, count))
    last = json.loads((copy / "entries.jsonl").read_bytes().splitlines()[-1])
    mark = (copy / "checkpoint.txt").read_text("utf-8").splitlines()
    new = {"entries": str(last["seq"]), "head": last["hash"]}
    told = [
        f"{name}: {new.get(name, old)}" for name, _, old in (one.partition(": ") for one in mark)
    ]
    summed_anew(copy, "checkpoint.txt", "\n".join(told).encode())
    assert "up to its head" in verified(copy).stdout
    assert verified(copy, head).returncode == 4
    assert verified(copy, kept_sum(pack)).returncode == 4


def test_the_sums_are_those_of_the_usual_program(pack: Path) -> None:
    program = shutil.which("sha256sum")
    if program is None:
        pytest.skip("sha256sum is not installed")
    line = [program, "--check", "--strict", "--quiet", "SHA256SUMS"]
    assert subprocess.run(line, cwd=pack, check=False, capture_output=True).returncode == 0


def test_the_columns_are_told_by_the_types_of_the_standard(pack: Path) -> None:
    """Types and properties of Table Schema 2.0, https://datapackage.org/standard/table-schema/."""
    types = {
        "string", "number", "integer", "boolean", "object", "array", "list", "datetime", "date",
        "time", "year", "yearmonth", "duration", "geopoint", "geojson", "any",
    }  # fmt: skip
    told = json.loads((pack / "datapackage.json").read_text("utf-8"))
    assert told["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"
    paths = {path.relative_to(pack).as_posix() for path in (pack / "tables").iterdir()}
    assert {one["path"] for one in told["resources"]} == paths
    for one in told["resources"]:
        names = [field["name"] for field in one["schema"]["fields"]]
        assert len(set(names)) == len(names)
        assert {field["type"] for field in one["schema"]["fields"]} <= types
        assert one["name"] == one["name"].lower().replace("_", "-")


def test_the_tables_are_told_by_the_rules_of_the_published_profile(pack: Path) -> None:
    """https://datapackage.org/profiles/2.0/dataresource.json, read; its rules in words of ours."""
    of_a_list = {"string", "integer", "boolean", "number", "datetime", "date", "time"}
    told = json.loads((pack / "datapackage.json").read_text("utf-8"))
    assert told["resources"]
    for one in told["resources"]:
        path, (way, _, digest) = one["path"], one["hash"].partition(":")
        assert path[0] not in "./~"
        assert not any(part in path for part in ("/../", "\\", "://"))
        assert (way, digest) == ("sha256", hashlib.sha256((pack / path).read_bytes()).hexdigest())
        assert (one["type"], one["mediatype"].count("/")) == ("table", 1)
        columns = one["schema"]["fields"]
        with (pack / path).open(encoding="utf-8", newline="") as file:
            assert next(csv.reader(file)) == [column["name"] for column in columns]
        assert {column.get("itemType") for column in columns} - {None} <= of_a_list
