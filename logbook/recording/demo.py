"""Filling a ledger with the invented clinic of ``sample_data``, by the functions that record."""

import json
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime, time
from functools import partial
from operator import attrgetter
from pathlib import Path
from typing import Any, NamedTuple, get_args
from zoneinfo import ZoneInfo

from logbook.answers.checking import check_body, on_machine
from logbook.answers.item import ask_about
from logbook.answers.lists import current_list
from logbook.answers.moment import moment_at
from logbook.checklists import Answer, Item
from logbook.checklists.answering import answer_in_fields, answer_in_words
from logbook.checklists.model import When
from logbook.entries import model
from logbook.entries.base import Body
from logbook.entries.clinic import Clinic, Staff
from logbook.errors import InputError
from logbook.ledger.store import Draft, head, new_id
from logbook.projections.lookup import machine_views
from logbook.recording.correcting import Change, correction_body, withdrawal
from logbook.recording.importing.cells import Cells
from logbook.recording.importing.files import Told as OfFile
from logbook.recording.importing.files import laid_on, read_table
from logbook.recording.importing.sheets import SHEETS, Sheet
from logbook.recording.importing.taking_over import Identities, draft_of
from logbook.recording.opening import Book, writing
from logbook.recording.record import name_person, record, start_ledger
from logbook.times import epoch_s, parse_duration_s, parse_instant

Told = dict[str, Any]


class Demo(NamedTuple):
    """What was made: the number of entries, and the day on which the invented weeks end."""

    entries: int
    day: date


def build_demo(path: Path, source: Path) -> Demo:
    """Make a ledger at ``path`` out of the files in ``source``, as it would have been kept: each
    entry is recorded when it happened, a case when it ended, and those marked as late later.

    Raises:
        InputError: a file stands at the path already, or the files do not fit together.
    """
    told = tomllib.loads((source / "clinic.toml").read_text("utf-8"))
    zone = ZoneInfo(told["clinic"]["timezone"])
    day = told["clinic"].pop("until")
    until = datetime.combine(day, time.max, tzinfo=zone)
    since = parse_instant(told["clinic"].pop("begun"), zone, until, "begun")
    people = {person["initials"]: person["name"] for person in told["staff"]}
    bodies: list[Body] = [Clinic.of(**told["clinic"])]
    bodies += [Staff.of(initials=initials) for initials in people]
    start_ledger(path, [Draft(body, since, "", new_id()) for body in bodies], zone, since)
    try:
        with writing(path) as book:
            for initials, name in people.items():
                name_person(book, initials, name)
            for body in _equipment(told):
                record(book, Draft(body, since, next(iter(people)), new_id()), since)
            filling = _Filling(book, until, told["late"])
            filling.take_file(SHEETS["cases"], source / "cases.csv", "reference")
            filling.take_file(SHEETS["changes"], source / "changes.csv")
            filling.take_file(SHEETS["services"], source / "services.csv", "certificate")
            filling.take_events(source / "events.jsonl")
            filling.record_all()
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


class _Line(NamedTuple):
    """A line of a file: when it is recorded, where it stands, what it says, its name for others."""

    recorded_at: datetime
    where: str
    draft: Callable[[], Draft]
    label: str | None


class _Filling:
    """A ledger that is being filled; ``labels`` are the names by which lines name entries."""

    def __init__(self, book: Book, until: datetime, late: Told) -> None:
        self._book = book
        self._until = until
        self._late = late
        self._lines: list[_Line] = []
        self._labels: dict[str, int] = {}

    def record_all(self) -> None:
        """Record every line in the order in which they were written down."""
        for line in sorted(self._lines, key=attrgetter("recorded_at")):
            with _told_where(line.where):
                saved = record(self._book, line.draft(), line.recorded_at)
            if line.label:
                self._labels[line.label] = saved.entry.seq

    def take_file(self, sheet: Sheet, path: Path, label: str = "") -> None:
        """Take the rows of a file; what stands in its column ``label`` names the entry."""
        identities = Identities(self._book.connection)
        read = laid_on(read_table(path), list(sheet.columns), sheet.needed, OfFile())
        for row in read.rows:
            where = f"{path.name}, row {row.number}"
            with _told_where(where):
                cells = Cells(row, read, self._book.zone, self._until)
                draft = draft_of(self._book.connection, sheet, cells, None, identities)
            name = getattr(draft.body, label) if label else None
            ended_at = getattr(draft.body, "ended_at", draft.happened_at)
            recorded_at = self._recorded(name, ended_at)
            self._lines.append(_Line(recorded_at, where, partial(_as_told, draft), name))

    def take_events(self, path: Path) -> None:
        """Take each line; its ``ref`` names the entry for the lines after it."""
        with path.open(encoding="utf-8") as lines:
            for number, line in enumerate(lines, start=1):
                where = f"line {number} of {path.name}"
                with _told_where(where):
                    self._take_event(json.loads(line), where)

    def _take_event(self, told: Told, where: str) -> None:
        at = self._instant(told.pop("at"))
        kind, by, ref = told.pop("kind"), told.pop("by"), told.pop("ref", None)

        def draft() -> Draft:
            return Draft(self._body(kind, told, at), at, by, new_id())

        self._lines.append(_Line(self._recorded(ref, at), where, draft, ref))

    def _recorded(self, name: str | None, at: datetime) -> datetime:
        return self._instant(self._late[name]) if name in self._late else at

    def _instant(self, text: str) -> datetime:
        return parse_instant(text, self._book.zone, self._until, "at")

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
        view = machine_views(self._book.connection, at_s)[machine]
        asked = ask_about(self._book.connection, moment_at(at, self._book.zone), machine)
        walk = on_machine(asked, view, checklist, {})
        walk = replace(walk, not_today=frozenset(get_args(When)))
        items = {item.key: item for item in walk.checklist.items}
        given = told["answers"].items()
        return check_body(walk, {key: _answer(items[key], said) for key, said in given})

    def _correction(self, told: Told) -> Body:
        seq, reason, ran = self._labels[told["corrects"]], told["reason"], told.get("ran")
        if told.get("withdrawn"):
            return withdrawal(self._book, seq, reason)
        change = Change(
            happened=told.get("happened"),
            ended=told.get("ended"),
            ran_s=parse_duration_s(ran, "ran") if ran else None,
            fields=tuple(told.get("set", {}).items()),
        )
        return correction_body(self._book, seq, self._until, change, reason)


def _as_told(draft: Draft) -> Draft:
    return draft


@contextmanager
def _told_where(where: str) -> Iterator[None]:
    """Say of what does not fit where it stands."""
    try:
        yield
    except (InputError, KeyError) as error:
        raise InputError(f"{where}: {error}") from None


def _answer(item: Item, said: str | Told) -> Answer:
    """An answer as the file writes it: in one text, or field by field."""
    return answer_in_words(item, said) if isinstance(said, str) else answer_in_fields(item, said)
