"""What a check needs before it is walked, and the entry that its answers make."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import Connection, select

from logbook.answers.lists import current_list, list_names
from logbook.answers.moment import Moment
from logbook.answers.rules import rulebook
from logbook.checklists import Answer, Checklist, Item, Judged, judge
from logbook.entries.check import Check, ItemAnswer, Judgement
from logbook.errors import InputError, NotKnown
from logbook.projections.lookup import machine_views
from logbook.projections.tables import check, check_answer
from logbook.units import format_decimal, shown


@dataclass(frozen=True, slots=True)
class ToWalk:
    """A list to walk on a machine, the limits that judge it, and what was seen last time."""

    machine: str
    checklist: Checklist
    limits: Mapping[str, Decimal]
    scavenging: str | None
    last: Mapping[str, str]


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


def not_here(walk: ToWalk, item: Item) -> bool:
    """Whether the machine is known to lack the part, so that nobody needs to be asked."""
    return item.fits == "charcoal" and walk.scavenging not in (None, "charcoal")


def check_body(walk: ToWalk, answers: Mapping[str, Answer]) -> Check:
    """The entry that the answers make, each judged by the limits in force.

    Raises:
        InputError: an item has no answer, or an answer does not fit its item.
    """
    items = {item.key: item for item in walk.checklist.items}
    for key in answers:
        if key not in items:
            raise InputError(
                f"the list {walk.checklist.name} has no item {shown(key)}; leave it out"
            )
    judged = []
    for key, item in items.items():
        if key not in answers and not not_here(walk, item):
            raise InputError(f"the item {key} has no answer; give one, if only 'not done' and why")
        answer = answers.get(key, Answer(state="not fitted"))
        judged.append(_item_answer(item, answer, judge(item, answer, walk.limits)))
    return Check.of(
        machine=walk.machine,
        checklist=walk.checklist.name,
        version=walk.checklist.version,
        answers=judged,
    )


def _item_answer(item: Item, answer: Answer, judged: Judged) -> ItemAnswer:
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
        reason=answer.reason,
        stops=judged.stops,
        absorbent_due=judged.absorbent_due,
    )
