"""A check as its pages show it: what is asked, what was answered, and which item comes next."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256
from zoneinfo import ZoneInfo

from logbook.answers.again import done_again
from logbook.answers.checking import ToWalk, to_walk
from logbook.answers.moment import moment_at
from logbook.answers.unfinished import LIMIT, Kept, Unfinished, unfinished
from logbook.checklists import Answer, Item, Judged
from logbook.checklists.answering import answer_in_fields, answer_in_words, read_pressure
from logbook.errors import InputError
from logbook.office.office import Opened
from logbook.page.acting import plain_number
from logbook.sheets.unfinished import unfinished_text
from logbook.sheets.walk_text import instruction

HOWS = ("", "failed", "not done", "not fitted", "hold", "number")
"""In which way an item is answered; the first is how it is meant."""
MARKS = {"passed": "Passed", "failed": "FAILED", "not done": "Not done", "not fitted": "Not fitted"}


@dataclass(frozen=True, slots=True)
class Seen:
    """An answer that was given, and what it means."""

    kept: Kept
    judged: Judged

    @property
    def mark(self) -> str:
        """What it means, in a word."""
        return MARKS[self.judged.state]

    @property
    def finding(self) -> str:
        """What was found, where that is more than the word."""
        return self.judged.sentence.removeprefix(self.judged.state).removeprefix(": ")

    @property
    def measured(self) -> bool:
        """Whether a number or a time was given, which is looked at before one goes on."""
        return self.kept.answer.value is not None or self.kept.answer.held_s is not None


@dataclass(frozen=True, slots=True)
class Walk:
    """A list on a machine, and how far somebody is with it."""

    walk: ToWalk
    so_far: Unfinished | None
    now: datetime
    zone: ZoneInfo

    @property
    def items(self) -> tuple[Item, ...]:
        """What is asked, in its order."""
        return self.walk.items

    @property
    def kept(self) -> Mapping[str, Kept]:
        """What was answered so far."""
        return self.so_far.kept if self.so_far else {}

    def state_of(self, item: Item) -> str:
        """By what a page knows later whether an item was answered anew; nothing without an answer.

        Two answers in one second differ in what they say.
        """
        kept = self.kept.get(item.key)
        told = f"{kept.by} {kept.at.isoformat()} {kept.answer}" if kept else ""
        return sha256(told.encode()).hexdigest()[:16] if told else ""

    @property
    def state(self) -> str:
        """The same of all items together."""
        return sha256(" ".join(map(self.state_of, self.items)).encode()).hexdigest()[:16]

    @property
    def open_items(self) -> list[Item]:
        """What has no answer yet."""
        return [item for item in self.items if item.key not in self.kept]

    def seen(self, item: Item) -> Seen | None:
        """What was answered to an item."""
        kept = self.kept.get(item.key)
        return Seen(kept, self.walk.judged(item, kept.answer)) if kept else None

    def item(self, key: str) -> Item | None:
        """The item of a key, if it is asked."""
        return next((item for item in self.items if item.key == key), None)

    def after(self, item: Item) -> Item | None:
        """The next item without an answer: after this one, else from the begin on."""
        later = self.items[self.items.index(item) + 1 :]
        waiting = self.open_items
        return next((one for one in later if one in waiting), waiting[0] if waiting else None)

    def before(self, item: Item) -> Item | None:
        """The item before it."""
        at = self.items.index(item)
        return self.items[at - 1] if at else None

    @property
    def hindrance(self) -> str:
        """Why nobody goes on with what was begun; nothing where somebody may."""
        if self.so_far is None:
            return ""
        if self.so_far.has_ended(self.now, self.walk.limits[LIMIT]):
            return "Its first answers are too old to make one check with what is seen now."
        if self.so_far.version != self.walk.checklist.version:
            return "The list was changed since it was begun."
        return ""

    @property
    def sentence(self) -> str:
        """Who began it, and how far it is."""
        if self.so_far is None:
            return ""
        now = self.now.astimezone(self.zone)
        return unfinished_text(self.so_far, now, self.walk.limits[LIMIT])

    def timing(self, item: Item, how: str) -> bool:
        """Whether the page times a hold; what comes first where nobody said how, the machine
        tells."""
        first = how == "" and item.or_hold is not None and self.walk.timed_first(item)
        return how == "hold" or first or (how == "" and item.kind == "hold")

    def instruction(self, item: Item) -> str:
        """How an item is done on this machine."""
        return instruction(self.walk, item)


def read_walk(opened: Opened, tag: str, name: str, again: str = "") -> Walk:
    """What a page of a check needs; ``again`` is the item that is done again alone.

    Raises:
        NotKnown: there is no such machine, list or item.
        InputError: nothing is there to be done again.
    """
    walk = to_walk(opened.connection, moment_at(opened.now, opened.zone), tag, name)
    so_far = unfinished(opened.connection, tag, name)
    whole = so_far is not None and so_far.again_of is None
    items = frozenset([again] if again else []) | frozenset(so_far.kept if so_far else ())
    if not whole and items:
        of = so_far.again_of if so_far else None
        walk = done_again(opened.connection, opened.now, walk, items, of)
    return Walk(walk, so_far, opened.now, opened.zone)


def read_answer(item: Item, how: str, given: Mapping[str, str]) -> Answer:
    """The answer that a form says.

    Raises:
        InputError: it says nothing about such an item.
    """
    # A person is told of an item by its title, never by the key that stands in the ledger.
    named = replace(item, key=f"“{item.title}”")
    reason = given.get("reason", "")
    if how in ("failed", "not done", "not fitted"):
        return answer_in_fields(named, {"state": how, "reason": reason})
    if how == "hold" or item.kind == "hold":
        told = {"held_s": _filled(given.get("value", ""))} | _pressures(given)
        return replace(answer_in_fields(named, told), timed=given.get("timed") == "yes")
    if item.kind == "tick":
        return answer_in_fields(named, {"state": given.get("state", "")})
    answer = answer_in_words(named, plain_number(_filled(given.get("value", ""))))
    read = _pressures(given).get("pressure")
    return replace(answer, pressure_cmh2o=read_pressure(named, read)) if read else answer


def _pressures(given: Mapping[str, str]) -> dict[str, str]:
    """The pressures of a test that were filled in, by their fields."""
    told = {name: plain_number(given.get(name, "")) for name in ("pressure", "end_pressure")}
    return {name: text for name, text in told.items() if text.strip()}


def judged_by_title(walk: ToWalk, item: Item, answer: Answer) -> Judged:
    """What an answer means; a refusal names the item by its title.

    Raises:
        InputError: it does not fit the item.
    """
    return walk.judged(replace(item, key=f"“{item.title}”"), answer)


def _filled(text: str) -> str:
    if not re.search(r"\S", text):
        raise InputError("nothing is filled in", "fill in what you read")
    return text
