"""What a check needs before it is walked, and the entry that its answers make."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import Connection, select

from logbook.answers.lists import current_list, list_names
from logbook.answers.moment import Moment
from logbook.answers.rules import rulebook
from logbook.answers.unfinished import Kept, Unfinished
from logbook.checklists import Answer, Checklist, Item, Judged, judge
from logbook.entries.check import Check, ItemAnswer, Judgement
from logbook.errors import InputError, NotKnown
from logbook.projections.lookup import machine_views
from logbook.projections.tables import check, check_answer
from logbook.units import format_decimal, shown


@dataclass(frozen=True, slots=True)
class Again:
    """The check of which ``items`` are done again, by its number and as it counts today."""

    entry: int
    body: Check
    begun_at: datetime
    items: frozenset[str]


@dataclass(frozen=True, slots=True)
class ToWalk:
    """A list to walk on a machine, the limits that judge it, and what was seen last time."""

    machine: str
    checklist: Checklist
    limits: Mapping[str, Decimal]
    scavenging: str | None
    last: Mapping[str, str]
    again: Again | None = None

    @property
    def items(self) -> tuple[Item, ...]:
        """What is asked, in the order of the list: nothing that the machine is known to lack."""
        items = self.checklist.items
        if self.again is not None:
            return tuple(item for item in items if item.key in self.again.items)
        charcoal = self.scavenging in (None, "charcoal")
        return tuple(item for item in items if charcoal or item.fits != "charcoal")


def to_walk(connection: Connection, moment: Moment, machine: str, list_name: str) -> ToWalk:
    """Read what a check needs.

    Raises:
        NotKnown: there is no such machine or list; the sentence names those that there are.
    """
    view = machine_views(connection, moment.at_s).get(machine)
    if view is None:
        raise NotKnown("machine", shown(machine), machine_views(connection, moment.at_s))
    checklist = current_list(connection, list_name)
    if checklist is None:
        raise NotKnown("list", shown(list_name), list_names(connection))
    limits = rulebook(connection, moment.at_s).for_machine(machine)
    last = _last_values(connection, moment, machine, list_name)
    return ToWalk(machine, checklist, limits, view.scavenging, last)


def _last_values(
    connection: Connection, moment: Moment, machine: str, list_name: str
) -> dict[str, str]:
    query = (
        select(check_answer, check.c.at_s)
        .join(check, check.c.entry == check_answer.c.entry)
        .where(check.c.machine == machine, check.c.checklist == list_name)
        .where(check.c.at_s <= moment.at_s)
        .order_by(check.c.at_s.desc(), check.c.entry.desc())
        .limit(200)
    )
    last: dict[str, str] = {}
    for row in connection.execute(query):
        value = _measured(row.value, row.unit, row.held_s) or row.choice
        if value is not None:
            last.setdefault(row.item, f"{value} on {_day(moment, row.at_s)}")
    return last


def _measured(value: Decimal | None, unit: str | None, held_s: int | None) -> str | None:
    if value is not None:
        return f"{format_decimal(value)} {unit}"
    return None if held_s is None else f"held {held_s} s"


def _day(moment: Moment, at_s: int) -> date:
    return moment.day_of(at_s)


def check_body(
    walk: ToWalk, answers: Mapping[str, Answer], followed: Unfinished | None = None
) -> Check:
    """The entry that the answers make, each judged by the limits in force.

    ``followed`` is the walk as it was kept, where it was: it tells when each answer was given.

    Raises:
        InputError: an item has no answer, or an answer does not fit its item.
    """
    items = {item.key: item for item in walk.checklist.items}
    asked = {item.key for item in walk.items}
    for key in answers:
        if walk.again is not None and key not in asked:
            raise InputError(f"the item {shown(key)} is not among those done again", "leave it out")
        if key not in items:
            raise InputError(
                f"the list {walk.checklist.name} has no item {shown(key)}", "leave it out"
            )
    earlier = {one.item: one for one in walk.again.body.answers} if walk.again else {}
    judged = []
    for key, item in items.items():
        if key in answers or (key not in asked and key not in earlier):
            answer = answers.get(key, Answer(state="not fitted"))
            kept = followed.kept.get(key) if followed else None
            judged.append(_item_answer(item, answer, judge(item, answer, walk.limits), kept))
        elif key in asked:
            raise InputError(f"the item {key} has no answer; give one, if only 'not done' and why")
        else:
            judged.append(earlier[key].model_copy(update={"carried": True}))
    begun_at = followed.begun_at if followed else None
    return Check.of(
        machine=walk.machine,
        checklist=walk.checklist.name,
        version=walk.checklist.version,
        answers=judged,
        begun=walk.again.begun_at if walk.again else begun_at,
        again_of=walk.again.entry if walk.again else None,
    )


def _item_answer(item: Item, answer: Answer, judged: Judged, kept: Kept | None) -> ItemAnswer:
    rule = None
    if judged.limit_name is not None and judged.limit_unit is not None:
        rule = Judgement(
            limit=judged.limit_name,
            low=judged.low,
            high=judged.high,
            unit=judged.limit_unit,
            pressure_cmh2o=judged.pressure_cmh2o,
        )
    chosen = item.kind == "choice" and judged.state in ("passed", "failed")
    return ItemAnswer.of(
        item=item.key,
        state=judged.state,
        value=None if answer.value is None or chosen else Decimal(answer.value),
        unit=answer.unit,
        held_s=answer.held_s,
        choice=answer.value if chosen else None,
        judgement=rule,
        reads=item.reads,
        tests=item.tests,
        timed=answer.timed,
        at=kept.at if kept else None,
        by=kept.by if kept else None,
        reason=answer.reason,
        stops=judged.stops,
        absorbent_due=judged.absorbent_due,
    )
