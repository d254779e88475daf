"""Filling a ledger with the invented clinic of ``sample_data``, by the functions that record."""

import json
import tomllib
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from logbook.answers.checking import ToWalk, check_body
from logbook.answers.lists import current_list
from logbook.answers.rules import rulebook
from logbook.checklists import Answer, Item
from logbook.checklists.answering import answer_in_fields, answer_in_words
from logbook.entries import model
from logbook.entries.base import Body
from logbook.entries.clinic import Clinic, Staff
from logbook.errors import InputError
from logbook.ledger.store import Draft, head, new_id
from logbook.projections.lookup import machine_views
from logbook.recording.correcting import correction_body
from logbook.recording.importing import CASES, CHANGES, SERVICES, Sheet, read_rows, take_over
from logbook.recording.opening import Book, writing
from logbook.recording.record import found, name_person, record
from logbook.times import epoch_s, parse_duration_s, parse_instant

Told = dict[str, Any]


class Demo(NamedTuple):
    """What was made: the number of entries, and the day on which the invented weeks end."""

    entries: int
    day: date


def build_demo(path: Path, source: Path, now: datetime) -> Demo:
    """Make a ledger at ``path`` out of the files in ``source``.

    Raises:
        InputError: a file stands at the path already, or the files do not fit together.
    """
    told = tomllib.loads((source / "clinic.toml").read_text("utf-8"))
    zone = ZoneInfo(told["clinic"]["timezone"])
    since = parse_instant(told["clinic"].pop("since"), zone, now, "since")
    day = told["clinic"].pop("until")
    people = {person["initials"]: person["name"] for person in told["staff"]}
    bodies: list[Body] = [Clinic.of(**told["clinic"])]
    bodies += [Staff.of(initials=initials) for initials in people]
    found(path, [Draft(body, since, "", new_id()) for body in bodies], zone, now)
    try:
        with writing(path) as book:
            for initials, name in people.items():
                name_person(book, initials, name)
            filling = _Filling(book, now)
            for body in _equipment(told):
                filling.put(body, since, next(iter(people)))
            filling.take_file(CASES, source / "cases.csv", "reference")
            filling.take_file(CHANGES, source / "changes.csv")
            filling.take_file(SERVICES, source / "services.csv", "certificate")
            filling.take_events(source / "events.jsonl")
            return Demo(head(book.connection)[0], day)
    except BaseException:
        path.unlink()
        raise


def _equipment(told: Told) -> Iterator[Body]:
    """Machines, vaporizers and where they stand, plans and rules."""
    for one in told["machine"]:
        yield model("machine").of(**one)
    for one in told["vaporizer"]:
        machine = one.pop("fitted_to", None)
        yield model("vaporizer").of(**one)
        if machine:
            yield model("vaporizer_fitting").of(vaporizer=one["vaporizer"], machine=machine)
    for kind in ("service_plan", "rule_change"):
        for one in told[kind]:
            yield model(kind).of(**one)


class _Filling:
    """A ledger that is being filled; ``labels`` are the names by which lines name entries."""

    def __init__(self, book: Book, now: datetime) -> None:
        self._book = book
        self._now = now
        self._labels: dict[str, int] = {}

    def put(self, body: Body, at: datetime, by: str) -> int:
        """Record one entry; answers its number."""
        return record(self._book, Draft(body, at, by, new_id()), self._now).entry.seq

    def take_file(self, sheet: Sheet, path: Path, label: str = "") -> None:
        """Import a file; what stands in its column ``label`` names the entry from then on."""
        done = take_over(self._book, sheet, read_rows(path, sheet), by=None, now=self._now)
        if done.refused:
            raise InputError(f"{path.name}, row {done.refused[0].number}: {done.refused[0].error}")
        for entry in done.new:
            if label and (name := getattr(entry.body, label)):
                self._labels[name] = entry.seq

    def take_events(self, path: Path) -> None:
        """Record each line; its ``ref`` names the entry for the lines after it."""
        with path.open(encoding="utf-8") as lines:
            for number, line in enumerate(lines, start=1):
                try:
                    self._take_event(json.loads(line))
                except (InputError, KeyError) as error:
                    raise InputError(f"line {number} of {path.name}: {error}") from None

    def _take_event(self, told: Told) -> None:
        at = parse_instant(told.pop("at"), self._book.zone, self._now, "at")
        kind, by, ref = told.pop("kind"), told.pop("by"), told.pop("ref", None)
        body = self._body(kind, told, at)
        seq = self.put(body, at, by)
        if ref:
            self._labels[ref] = seq

    def _body(self, kind: str, told: Told, at: datetime) -> Body:
        if kind == "check":
            return self._check(told, at)
        if kind == "correction":
            return self._correction(told)
        for field, name in (("case_entry", "case"), ("evidence_entry", "evidence")):
            if name in told:
                told[field] = self._labels[told.pop(name)]
        return model(kind).of(**told)

    def _check(self, told: Told, at: datetime) -> Body:
        """A check, judged by the limits that were in force when it was walked."""
        machine, at_s = told["machine"], epoch_s(at)
        checklist = current_list(self._book.connection, told["list"])
        if checklist is None:
            raise InputError(f"there is no list {told['list']}")
        items = {item.key: item for item in checklist.items}
        view = machine_views(self._book.connection, at_s)[machine]
        limits = rulebook(self._book.connection, at_s).for_machine(machine)
        walk = ToWalk(machine, checklist, limits, view.scavenging, last={})
        given = told["answers"].items()
        return check_body(walk, {key: _answer(items[key], said) for key, said in given})

    def _correction(self, told: Told) -> Body:
        ran = told.get("ran")
        return correction_body(
            self._book,
            self._labels[told["corrects"]],
            self._now,
            withdraw=told.get("withdrawn", False),
            restore=False,
            reason=told["reason"],
            fields=[f"{name}={value}" for name, value in told.get("set", {}).items()],
            happened=told.get("happened"),
            ended=told.get("ended"),
            ran=parse_duration_s(ran, "ran") if ran else None,
        )


def _answer(item: Item, said: str | Told) -> Answer:
    """An answer as the file writes it: in one text, or field by field."""
    return answer_in_words(item, said) if isinstance(said, str) else answer_in_fields(item, said)
