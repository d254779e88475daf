"""Segments that no hand-over wrote, some with every hash right: taken or refused in words, and
whatever was taken, every question is answered."""

import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

from logbook.entries import KINDS
from logbook.entries.base import canonical_json
from logbook.ledger.chain import Stored
from logbook.ledger.store import new_id
from tests.centre.conftest import Clinic
from tests.centre.test_refused import Centre, chained, read, site, write
from tests.conftest import Ran
from tests.faults.conftest import chance, report, seed, size
from tests.faults.forger import drawn_body

__all__ = ["chance", "report", "seed", "site", "size"]
ROUNDS = {"quick": 4, "ci": 60, "full": 300}
ASKED = (
    ("sites", "--json"), ("due", "--within", "60d"), ("due", "--json"), ("where", "M-2001"),
    ("lots",), ("silent",), ("renew",), ("verify",),
)  # fmt: skip
ODD: tuple[Any, ...] = (
    None, True, 0, -1, 1.5, 2**63, 10**400, "", "x", "\0", "\ud800", "\x1b[2J", "\u202e",
    "9" * 5000, "2026-03-02T16:00:00Z", "9999-12-31T23:59:59Z", "0001-01-01T00:00:00Z", [], {},
    [[]], "{}", "[]", '{"machine":"bay2"}',
)  # fmt: skip
"""What a column or a word of the first and the last line may hold."""


def odd_entry(last: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    """A row of some kind with a body that its class reads, or of columns that are odd."""
    kind = chance.choice([*KINDS])
    row = last | {"id": new_id(), "kind": kind, "body": canonical_json(drawn_body(kind, chance))}
    if chance.random() < 0.2:
        row |= {chance.choice([*Stored.__slots__[1:-1]]): chance.choice(ODD)}
    return row


def forged(lines: list[dict[str, Any]], chance: random.Random) -> list[dict[str, Any]]:
    """What was handed over, and some entries more; the hashes are right where they can be."""
    *held, last = lines
    held += [odd_entry(held[-1], chance) for _ in range(chance.choice((1, 3)))]
    try:
        made = chained([*held, last])
    except (TypeError, ValueError):  # Over a value of another type no hash can be made.
        made = [*held, last]
    if chance.random() < 0.3:
        line = chance.choice((0, -1))
        made[line] = made[line] | {chance.choice([*made[line]]): chance.choice(ODD)}
    return made


def told_unread(asked: Ran) -> bool:
    """Whether it failed (exit 1) because the site's entries cannot be read, and named the site."""
    if asked.out.startswith("{"):
        return asked.code == 1 and asked.json["unread"][0]["site"] == "birch-lane"
    told = " ".join((asked.out + asked.err).split())
    words = ("NOT READ: birch-lane", "birch-lane could not be read")
    return asked.code == 1 and any(one in told for one in words)


def test_whatever_a_site_hands_over_it_is_taken_or_refused_in_words_and_questions_are_answered(
    site: Clinic, centre: Centre, tmp_path: Path, chance: random.Random, size: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    taken, held = 0, read(site.segment())
    for number in range(ROUNDS[size]):
        path, lines = tmp_path / f"{number}.jsonl", forged(held, chance)
        said = centre("take", str(write(path, lines)))
        assert said.code in (0, 2, 3, 4), (path.read_text()[-3000:], said)
        assert "\x1b" not in said.out + said.err
        if said.code in (0, 3):
            # What comes next goes on from it, or it would only contradict what stands there.
            taken, held = taken + 1, lines
        for words in ASKED:
            asked: Ran = centre(*words)
            assert asked.code in (0, 2, 3, 4) or told_unread(asked), (words, lines[-4:], asked)
            assert "\x1b" not in asked.out + asked.err, words
    report(f"forged segments: {ROUNDS[size]}, {taken} taken")


DAMAGED = {"quick": 40, "ci": 400, "full": 2_000}


def test_a_segment_damaged_at_any_byte_is_refused_or_says_the_same(
    site: Clinic, centre: Centre, tmp_path: Path, chance: random.Random, size: str,
    report: Callable[[str], None],
) -> None:  # fmt: skip
    whole, path = site.segment().read_bytes(), tmp_path / "damaged.jsonl"
    before = centre("sites", "--json").json["sites"]
    refused = 0
    for _ in range(DAMAGED[size]):
        torn, at = bytearray(whole), chance.randrange(len(whole))
        how = chance.choice(("bit", "byte", "out", "twice"))
        if how == "bit":
            torn[at] ^= 1 << chance.randrange(8)
        elif how == "byte":
            torn[at] = chance.randrange(256)
        elif how == "out":
            del torn[at : at + chance.choice((1, 9, 400))]
        else:
            torn[at:at] = torn[at : at + chance.choice((1, 9, 400))]
        path.write_bytes(torn)
        said = centre("take", str(path))
        assert said.code in (0, 2, 4), (how, at, said)
        refused += said.code != 0
        told = json.loads(json.dumps(centre("sites", "--json").json["sites"]))
        assert [(one["entries"], one["head"]) for one in told] == [
            (one["entries"], one["head"]) for one in before
        ]
    report(f"segments damaged: {DAMAGED[size]}, {refused} refused")
