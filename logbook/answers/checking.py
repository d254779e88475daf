"""What a check needs before it is walked, and the entry that its answers make."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any, cast

from sqlalchemy import Connection, Row, select

from logbook.answers.asked_today import counted_here, not_today
from logbook.answers.cylinders import how_many
from logbook.answers.item import Asked, ask_about
from logbook.answers.lists import current_list, list_in_version, list_names
from logbook.answers.moment import Moment, moment_at
from logbook.answers.oxygen import check_limits, cylinder_starts
from logbook.answers.unfinished import Kept, Unfinished
from logbook.arithmetic.oxygen import measured
from logbook.checklists import Answer, Checklist, Item, Judged, judge
from logbook.checklists.answering import answer_with_reason
from logbook.checklists.model import Compares, When
from logbook.checklists.profile import Profile, each_cylinder, lacks
from logbook.entries.check import Check, ItemAnswer, Judgement
from logbook.errors import Faults, InputError, NotKnown
from logbook.projections.lookup import MachineView, clinic_zone, machine_views
from logbook.projections.project import counting
from logbook.projections.tables import check, check_answer
from logbook.times import utc_from_epoch_s
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
    """A list to walk on a machine, the limits that judge it, and what was seen last time.

    ``starts`` is what each cylinder must show to start the day, in psi by its number;
    ``not_today`` is what need not be looked at this time, ``counted`` what the ledger itself counts
    of that which a person reads.
    """

    machine: str
    checklist: Checklist
    limits: Mapping[str, Decimal]
    profile: Profile
    last: Mapping[str, str]
    again: Again | None = None
    not_today: frozenset[When] = frozenset()
    counted: Mapping[Compares, Decimal] = field(default_factory=dict)
    starts: Mapping[int, Decimal] = field(default_factory=dict)

    @property
    def items(self) -> tuple[Item, ...]:
        """What is asked, in the order of the list: nothing that the machine is known to lack, and
        nothing that can wait."""
        items = self.checklist.items
        if self.again is not None:
            return tuple(item for item in items if item.key in self.again.items)
        return tuple(
            item for item in items if not self.lacks(item) and item.when not in self.not_today
        )

    def judged(self, item: Item, answer: Answer) -> Judged:
        """What an answer means by the limits in force.

        Raises:
            InputError: the answer does not fit the item.
        """
        limits = dict(self.limits)
        if item.number is not None:
            limits["cylinder-start"] = self.starts[item.number]
        return judge(item, answer, limits, self.profile.compliance_ml_cmh2o)

    def timed_first(self, item: Item) -> bool:
        """Whether a leak is timed first: as the profile tells; where it does not, unless the
        flowmeter is known to show the largest flow that is allowed."""
        if self.profile.leak_test_first is not None:
            return self.profile.leak_test_first == "timed"
        least = self.profile.flowmeter_min_ml_min
        return item.at_most is None or least is None or least > self.limits[item.at_most]

    def lacks(self, item: Item) -> bool:
        """Whether the machine is known to lack the part that an item is about."""
        return item.fits in lacks(self.profile)


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
    last = _last_values(connection, moment, machine, list_name)
    asked = ask_about(connection, moment, machine)
    walk = on_machine(asked, view, checklist, last)
    if machine not in asked.machines:
        return walk
    return replace(walk, not_today=not_today(asked, view), counted=counted_here(asked, view))


def on_machine(
    asked: Asked, view: MachineView, checklist: Checklist, last: Mapping[str, str]
) -> ToWalk:
    """A list as a machine has it: with an item for each of its cylinders, and its own limits."""
    limits, starts = check_limits(asked, view.machine), cylinder_starts(asked, view.machine)
    fitted = each_cylinder(checklist, how_many(view))
    return ToWalk(view.machine, fitted, limits, view, last, starts=starts)


def _last_values(
    connection: Connection, moment: Moment, machine: str, list_name: str
) -> dict[str, str]:
    query = (
        select(check_answer, check.c.at_s)
        .join(check, check.c.entry == check_answer.c.entry)
        .where(check.c.machine == machine, check.c.checklist == list_name)
        .where(check.c.at_s <= moment.at_s, check_answer.c.state != "not done")
        .order_by(check.c.at_s.desc(), check.c.entry.desc())
        .limit(200)
    )
    last: dict[str, str] = {}
    for row in connection.execute(query):
        value = _measured(row.value, row.unit, row.held_s) or row.choice
        if value is not None and row.item not in last:
            at, untold = _pressure(connection, row)
            last[row.item] = f"{value}{at} on {moment.day_of(row.at_s)}{untold}"
    return last


def _measured(value: Decimal | None, unit: str | None, held_s: int | None) -> str | None:
    if value is not None:
        return measured(value, unit)
    return None if held_s is None else f"held {held_s} s"


def _pressure(connection: Connection, row: Row[Any]) -> tuple[str, str]:
    """The pressure that was read in a test, or that none was told: that of the limit, by which it
    was judged then, nobody saw, and values of two pressures are never compared."""
    judged = Judgement.model_validate_json(row.judged_by) if row.judged_by else None
    if judged is None or judged.pressure_cmh2o is None:
        return "", ""
    entry = counting(connection, row.entry)
    answers = cast("Check", entry.body).answers if entry else ()
    read = next((one.pressure_cmh2o for one in answers if one.item == row.item), None)
    return (f" at {format_decimal(read)} cmH2O", "") if read else ("", ", pressure not told")


def _unanswered(keys: Sequence[str]) -> list[str]:
    """The items that have no answer, in one sentence."""
    if not keys:
        return []
    have = f"the item {keys[0]} has" if len(keys) == 1 else f"the items {', '.join(keys)} have"
    return [f"{have} no answer; give one, if only 'not done' and why"]


def check_body(
    walk: ToWalk, answers: Mapping[str, Answer], followed: Unfinished | None = None
) -> Check:
    """The entry that the answers make, each judged by the limits in force.

    ``followed`` is the walk as it was kept, where it was: it tells when each answer was given.

    Raises:
        Faults: items have no answer, or answers do not fit their items; all are told.
    """
    items = {item.key: item for item in walk.checklist.items}
    asked = {item.key for item in walk.items}
    may_be_given = items.keys() if walk.again is None else asked
    faults = [_not_asked(walk, key) for key in answers if key not in may_be_given]
    earlier = {one.item: one for one in walk.again.body.answers} if walk.again else {}
    faults += _unanswered([key for key in items if key in asked and key not in answers])
    judged = []
    for key, item in items.items():
        if key in answers:
            kept = followed.kept.get(key) if followed else None
            try:
                judged.append(_item_answer(walk, item, answers[key], kept))
            except InputError as error:
                faults.append(str(error))
        elif key in asked:
            continue  # It is told above.
        elif key in earlier:
            judged.append(earlier[key].model_copy(update={"carried": True}))
        elif walk.again is None and walk.lacks(item):
            judged.append(_item_answer(walk, item, Answer(state="not fitted"), None))
    if faults:
        raise Faults("the answers have", faults)
    begun_at = followed.begun_at if followed else None
    return Check.of(
        machine=walk.machine,
        checklist=walk.checklist.name,
        version=walk.checklist.version,
        answers=judged,
        begun=walk.again.begun_at if walk.again else begun_at,
        again_of=walk.again.entry if walk.again else None,
    )


def _not_asked(walk: ToWalk, key: str) -> str:
    if walk.again is not None and key in {item.key for item in walk.checklist.items}:
        return f"the item {shown(key)} is not among those done again; leave it out"
    return f"the list {walk.checklist.name} has no item {shown(key)}; leave it out"


def _item_answer(walk: ToWalk, item: Item, answer: Answer, kept: Kept | None) -> ItemAnswer:
    judged, rule = walk.judged(item, answer), None
    if judged.limit_name is not None and judged.limit_unit is not None:
        rule = Judgement(
            limit=judged.limit_name,
            low=judged.low,
            high=judged.high,
            unit=judged.limit_unit,
            pressure_cmh2o=judged.pressure_cmh2o,
        )
    compared = item.compares if answer.value is not None else None
    chosen = item.kind == "choice" and judged.state in ("passed", "failed")
    return ItemAnswer.of(
        item=item.key,
        state=judged.state,
        value=None if answer.value is None or chosen else Decimal(answer.value),
        unit=answer.unit,
        held_s=answer.held_s,
        choice=answer.value if chosen else None,
        judgement=rule,
        counted=walk.counted.get(compared) if compared else None,
        reads=item.reads,
        number=item.number,
        tests=item.tests,
        timed=answer.timed,
        pressure_cmh2o=_amount(answer.pressure_cmh2o),
        end_pressure_cmh2o=_amount(answer.end_pressure_cmh2o),
        leak_ml_min=judged.leak_ml_min,
        at=kept.at if kept else None,
        by=kept.by if kept else None,
        reason="; ".join(filter(None, (judged.reason, answer.reason))) or None,
        stops=judged.stops,
        absorbent_due=judged.absorbent_due,
    )


def _amount(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


def answered_anew(
    connection: Connection, body: Check, at_s: int, told: Sequence[tuple[str, str]]
) -> list[ItemAnswer]:
    """The answers of a check with some items answered otherwise, by what each is told in words.

    They are judged by the limits in force when the check was done; who answered and when stays.

    Raises:
        InputError: there is no such item, or its answer does not fit.
        NotKnown: the list is no longer known as it was.
    """
    if body.paper:
        raise InputError("no item of a check on paper is known", "withdraw it, or walk the list")
    checklist = list_in_version(connection, body.checklist, body.version)
    moment = moment_at(utc_from_epoch_s(at_s), clinic_zone(connection))
    view = machine_views(connection, at_s)[body.machine]
    walk = on_machine(ask_about(connection, moment, body.machine), view, checklist, {})
    items = {item.key: item for item in walk.checklist.items}
    answers = {one.item: one for one in body.answers}
    for called, text in told:
        key = _key_of(called, items)
        given = answer_with_reason(items[key], text)
        anew = _item_answer(walk, items[key], given, None)
        before = answers.get(key)
        kept = {"at": before.at, "by": before.by} if before else {}
        answers[key] = anew.model_copy(update=kept)
    return list(answers.values())


def _key_of(called: str, items: Mapping[str, Item]) -> str:
    """An item by its key or its title, with or without hyphens."""
    plain = called.strip().lower().replace("-", " ")
    for key, item in items.items():
        if plain in (key.replace("-", " "), item.title.lower().replace("-", " ")):
            return key
    raise NotKnown("item", shown(called), items)
