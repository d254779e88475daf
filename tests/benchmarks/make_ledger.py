"""A plausible ledger of many machines and years, for whatever must stay quick however long it is.

``python tests/benchmarks/make_ledger.py OUT --machines 40 --weeks 520 --seed 1`` writes it: about
fifty entries a machine and week, the last week ending on 2025-12-31, each made by the entry's own
model, linked into the chain and projected. The same seed gives the same bodies at the same times.
It is not recorded entry by entry, so what recording would refuse is left to the generator.
"""

import argparse
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from random import Random
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, insert

from logbook.answers.checking import ToWalk, check_body
from logbook.checklists import Answer, builtin
from logbook.checklists.profile import Profile
from logbook.entries.base import Body
from logbook.entries.book import Correction, Note, RuleChange
from logbook.entries.case import Case, CaseBegin, CaseEnd
from logbook.entries.check import Check
from logbook.entries.clinic import Clinic, Staff
from logbook.entries.fault import Fault, FaultClose, ReturnToService
from logbook.entries.machine import Machine, MachineChange
from logbook.entries.service import OutputVerification, Service, ServicePlan
from logbook.entries.supplies import (
    AbsorbentChange,
    AgentFill,
    AgentLevel,
    CharcoalChange,
    CharcoalWeight,
    CylinderChange,
    OxygenReading,
)
from logbook.entries.vaporizer import Vaporizer, VaporizerFitting
from logbook.ledger.chain import Stored, link_hash
from logbook.ledger.connect import engine_for
from logbook.ledger.schema import entry
from logbook.ledger.store import Draft, head, new_id
from logbook.limits import LIMITS
from logbook.projections.project import rebuild
from logbook.recording.record import start_ledger
from logbook.times import utc_text

ZONE = ZoneInfo("America/Denver")
END = datetime(2025, 12, 31, 18, 0, tzinfo=ZONE)
"""The end of the last week in every ledger."""
PEOPLE = ("KO", "JM", "TR", "AB")
WEIGHTS_G = (3200, 4500, 6800, 9100, 12000, 18500, 24000, 31000, 42000)
VARIETIES = 12
"""How many different checks there are for each list and machine: models are slow to build."""

Told = Callable[[dict[str, int]], Body]
"""Makes a body once the numbers of the entries that it names are known."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened; ``name`` is that under which a later one finds its number."""

    at: datetime
    told: Told
    name: str = ""


@dataclass(slots=True)
class Bay:
    """A machine and its vaporizer as the weeks go by."""

    tag: str
    vaporizer: str
    charcoal: bool
    random: Random
    level_ml: float = 220.0
    absorbent_h: float = 0.0
    charcoal_h: float = 0.0
    cylinder_psi: float = 1900.0
    cases: int = 0
    events: list[Event] = field(default_factory=list)

    def add(self, at: datetime, body: Body, name: str = "") -> None:
        """An event whose body needs no other entry's number."""
        self.events.append(Event(at, lambda _numbers: body, name))


def founding(bays: list[Bay], at: datetime) -> Iterator[Event]:
    """The machines and vaporizers with their plans, as they are on the first day."""
    for bay in bays:
        scavenging = "charcoal" if bay.charcoal else "active"
        bay.add(at, Machine(machine=bay.tag, absorbent_g="1200", scavenging=scavenging))
        unit = Vaporizer(
            vaporizer=bay.vaporizer, agent="isoflurane", capacity_ml="250", low_mark_ml="25"
        )
        bay.add(at, unit)
        bay.add(at, VaporizerFitting(vaporizer=bay.vaporizer, machine=bay.tag))
        last = (at - timedelta(days=30)).date()
        bay.add(at, ServicePlan(unit=bay.tag, item="service", every="P12M", last=last))
        plan = ServicePlan(
            unit=bay.vaporizer, item="output verification", every="P12M", run_hours="900", last=last
        )
        bay.add(at, plan)
        bay.add(at, AbsorbentChange(machine=bay.tag, mass_g="1200"))
        bay.add(at, AgentFill(vaporizer=bay.vaporizer, level_ml="220"))
        bay.add(at, CylinderChange(machine=bay.tag, size="E", cylinder_psi="1900"))
        if bay.charcoal:
            bay.add(at, CharcoalChange(machine=bay.tag, weight_g="210"))
        yield from bay.events
        bay.events.clear()


def day_of(bay: Bay, day: datetime) -> None:
    """One working day at a machine: check, cases, and what they use up."""
    random = bay.random
    at = day.replace(hour=6, minute=30) + timedelta(minutes=random.randrange(40))
    _checked(bay, at)
    at = day.replace(hour=8) + timedelta(minutes=random.randrange(30))
    for _ in range(random.randint(4, 6)):
        at += timedelta(minutes=random.randint(5, 25))
        at = _case(bay, at)
        _used_up(bay, at)
    if day.weekday() == 0:
        bay.add(day.replace(hour=7, minute=25), checked(bay.tag, "oxygen-failure-alarm", 0))
    if day.weekday() in (1, 3):
        read = OxygenReading(machine=bay.tag, cylinder_psi=str(round(bay.cylinder_psi)))
        bay.add(day.replace(hour=17, minute=30), read)
    if day.weekday() == 4:
        bay.level_ml = max(bay.level_ml + random.uniform(-3, 3), 0)
        level = AgentLevel(vaporizer=bay.vaporizer, level_ml=f"{bay.level_ml:.1f}")
        bay.add(day.replace(hour=17, minute=40), level)
        if bay.charcoal:
            weight = CharcoalWeight(machine=bay.tag, weight_g=str(210 + round(bay.charcoal_h * 3)))
            bay.add(day.replace(hour=17, minute=45), weight)


def _checked(bay: Bay, at: datetime) -> None:
    """The morning's check; now and then nobody does it, or it fails and is done again."""
    luck = bay.random.random()
    if luck < 0.015:
        return
    if luck < 0.025:
        bay.add(at, checked(bay.tag, "daily", VARIETIES))
        at += timedelta(minutes=25)
        bay.add(at, checked(bay.tag, "daily", 0), "passed")
        _back(bay, at + timedelta(minutes=1), bay.tag, "passed")
        return
    bay.add(at, checked(bay.tag, "daily", bay.random.randrange(VARIETIES)))


def _back(bay: Bay, at: datetime, unit: str, evidence: str) -> None:
    name = f"{bay.tag} {evidence}"
    bay.events.append(
        Event(at, lambda numbers: ReturnToService(unit=unit, evidence_entry=numbers[name]))
    )


@cache
def checked(tag: str, name: str, variety: int) -> Check:
    """A check of one variety; the one beyond the last variety fails its leak test."""
    random, checklist = Random(f"{tag} {name} {variety}"), builtin(name)  # noqa: S311
    values = {
        "cylinder-pressure": str(random.randint(1200, 1900)),
        "pipeline-pressure": str(random.randint(50, 54)),
        "absorbent-hours": str(random.randint(0, 7)),
        "breathing-system-leak": "450" if variety == VARIETIES else str(random.randint(20, 150)),
        "charcoal-weight": "230",
        "cylinder-side-leak": "20",
    }
    answers = {}
    for item in checklist.items:
        if item.kind == "number":
            answers[item.key] = Answer(value=values[item.key], unit=item.unit)
        elif item.kind == "hold":
            answers[item.key] = Answer(held_s=random.randint(15, 30))
        elif item.kind == "choice":
            answers[item.key] = Answer(value=item.passing[0])
        else:
            answers[item.key] = Answer(state="passed")
    limits = {limit: one.value for limit, one in LIMITS.items()}
    return check_body(ToWalk(tag, checklist, limits, Profile(), {}), answers)


def _case(bay: Bay, at: datetime) -> datetime:
    """A case from ``at``, logged afterwards or live; answers when it ended."""
    random = bay.random
    bay.cases += 1
    ran = timedelta(minutes=random.randint(20, 90))
    flow, dial = random.choice((600, 800, 1000, 1500)), random.choice(("1.5", "2", "2.5"))
    first = {"duration_s": 600, "flow_ml_min": "2000", "dial_percent": "3"}
    segments = [first, {"flow_ml_min": str(flow), "dial_percent": dial}]
    told = {
        "machine": bay.tag,
        "circuit": random.choice(("adult rebreathing", "pediatric rebreathing", "unknown")),
        "weight_g": str(random.choice(WEIGHTS_G)) if random.random() < 0.9 else None,
        "segments": () if random.random() < 0.03 else segments,
    }
    name = f"case {bay.cases}"
    if random.random() < 0.25:
        bay.add(at, CaseBegin(**told, pop_off_open=True), name)
        begun = f"{bay.tag} {name}"
        end = Event(at + ran, lambda numbers: CaseEnd(case_entry=numbers[begun]))
        bay.events.append(end)
    else:
        body = Case(**told, ended_at=(at + ran).astimezone(UTC))
        bay.add(at, body, name)
        if random.random() < 0.01:
            _corrected(bay, at, body, f"{bay.tag} {name}")
    hours = ran / timedelta(hours=1)
    bay.level_ml -= (600 + (hours * 60 - 10) * flow * float(dial) / 100) / 195
    bay.absorbent_h += hours
    bay.charcoal_h += hours
    bay.cylinder_psi -= (20 + (hours * 60 - 10) * flow / 1000) / 0.28 / 20
    return at + ran


def _corrected(bay: Bay, at: datetime, body: Case, name: str) -> None:
    """The case was a slip, or was on another circuit, as somebody notices in the evening."""
    content = body.model_dump(mode="json", exclude_none=True) | {"circuit": "adult rebreathing"}
    told: dict[str, object] = {"withdrawn": True}
    if bay.random.random() < 0.7:
        told = {"withdrawn": False, "happened_at": at.astimezone(UTC), "body": content}
    bay.events.append(
        Event(
            at.replace(hour=19, minute=0),
            lambda numbers: Correction(corrects=numbers[name], reason="a slip", **told),
        )
    )


def _used_up(bay: Bay, at: datetime) -> None:
    """What is renewed between two cases because it is used up."""
    if bay.absorbent_h > 7:
        bay.absorbent_h = 0
        bay.add(at + timedelta(minutes=1), AbsorbentChange(machine=bay.tag, mass_g="1200"))
    if bay.level_ml < 70:
        added = 220 - bay.level_ml
        bay.level_ml = 220
        fill = AgentFill(vaporizer=bay.vaporizer, added_ml=f"{added:.1f}", level_ml="220")
        bay.add(at + timedelta(minutes=2), fill)
    if bay.cylinder_psi < 500:
        bay.cylinder_psi = 1900
        full = CylinderChange(machine=bay.tag, size="E", cylinder_psi="1900")
        bay.add(at + timedelta(minutes=3), full)
    if bay.charcoal and bay.charcoal_h > 11:
        bay.charcoal_h = 0
        bay.add(at + timedelta(minutes=4), CharcoalChange(machine=bay.tag, weight_g="210"))


def seldom(bay: Bay, friday: datetime, week: int) -> None:
    """What happens once in a while: faults, services, notes, a move, another limit."""
    at, random = friday.replace(hour=19, minute=30), bay.random
    if random.random() < 0.1:
        stops = random.random() < 0.3
        bay.add(at, Fault(unit=bay.tag, what="leak", stops=stops), f"fault {week}")
        if stops:
            bay.add(at + timedelta(minutes=20), checked(bay.tag, "daily", 1), "mended")
            _back(bay, at + timedelta(minutes=21), bay.tag, "mended")
        else:
            _closed(bay, at + timedelta(minutes=30), f"{bay.tag} fault {week}")
    if random.random() < 0.3:
        bay.add(at, Note(unit=bay.tag, text=random.choice(("hoses new", "table lamp mended"))))
    if week % 52 == 45:
        bay.add(at, Service(unit=bay.tag, item="service", outcome="passed", done_by="the maker"))
        bay.add(at, _verified(bay))
    if week % 26 == 13:
        moved = MachineChange(
            machine=bay.tag, location=f"room {random.randint(1, 9)}", reason="moved"
        )
        bay.add(at, moved)
    if week % 104 == 70 and random.random() < 0.2:
        bay.add(at, RuleChange(limit="leak-flow", value="190", machine=bay.tag, reason="older"))


def _closed(bay: Bay, at: datetime, name: str) -> None:
    """A fault that stopped nothing was mended in passing."""
    unit = bay.tag
    bay.events.append(
        Event(at, lambda seqs: FaultClose(unit=unit, fault_entry=seqs[name], reason="tightened"))
    )


def _verified(bay: Bay) -> OutputVerification:
    """The vaporizer's output, near what its dial says."""
    seen = f"{2 + bay.random.uniform(-0.1, 0.1):.2f}"
    return OutputVerification(
        vaporizer=bay.vaporizer,
        outputs=({"dial_percent": "2", "measured_percent": seen},),
        outcome="passed",
        tolerance_percent="15",
        tolerance_least_percent="0.05",
        design="variable-bypass",
    )


def swapped(bays: list[Bay], at: datetime, random: Random) -> None:
    """Two machines exchange their vaporizers."""
    one, other = random.sample(bays, 2)
    one.vaporizer, other.vaporizer = other.vaporizer, one.vaporizer
    one.level_ml, other.level_ml = other.level_ml, one.level_ml
    for bay in (one, other):
        bay.add(at, VaporizerFitting(vaporizer=bay.vaporizer, machine=bay.tag))


def weeks_of(bays: list[Bay], weeks: int, random: Random) -> Iterator[list[Event]]:
    """The events of each week in the order of time."""
    for week in range(weeks):
        last = END - timedelta(weeks=weeks - 1 - week)
        days = [(last - timedelta(days=back)).replace(minute=0) for back in range(6, -1, -1)]
        for bay in bays:
            for day in days:
                if day.weekday() < 5:
                    day_of(bay, day)
            seldom(bay, next(day for day in days if day.weekday() == 4), week)
        if len(bays) > 1 and week % 3 == 2:
            swapped(bays, last.replace(hour=21), random)
        events = [
            Event(event.at, event.told, f"{bay.tag} {event.name}" if event.name else "")
            for bay in bays
            for event in bay.events
        ]
        for bay in bays:
            bay.events.clear()
        yield sorted(events, key=lambda event: event.at)


class Chain:
    """Appends events, each continuing the chain as ``store.append`` does."""

    def __init__(self, connection: Connection, random: Random) -> None:
        self._connection, self._random = connection, random
        self._seq, self._hash = head(connection)
        self._numbers: dict[str, int] = {}
        self._texts: dict[int, tuple[Body, str]] = {}

    def append(self, events: list[Event]) -> int:
        """All of them with one statement; answers how many entries there are now."""
        rows = []
        for event in events:
            self._seq += 1
            if event.name:
                self._numbers[event.name] = self._seq
            body = event.told(self._numbers)
            utc, local = utc_text(event.at), event.at.isoformat(timespec="seconds")
            by, identity = self._random.choice(PEOPLE), UUID(int=self._random.getrandbits(128))
            when = (utc, local, utc, local)
            row = Stored(self._seq, str(identity), body.kind, *when, by, self._text(body))
            self._hash = link_hash(self._hash, row)
            rows.append(
                {name: getattr(row, name) for name in Stored.__slots__} | {"hash": self._hash}
            )
        if rows:
            self._connection.execute(insert(entry), rows)
        return self._seq

    def _text(self, body: Body) -> str:
        """The canonical text; a check's is kept, because the same one comes again."""
        if not isinstance(body, Check):
            return body.canonical()
        _, text = self._texts.setdefault(id(body), (body, body.canonical()))
        return text


def make(path: Path, machines: int, weeks: int, seed: int = 1) -> int:
    """Write a ledger and answer how many entries it has."""
    random, early = Random(seed), END - timedelta(weeks=weeks, days=1)  # noqa: S311
    clinic = Clinic(name="Long Run Animal Hospital", timezone=ZONE.key)
    bodies = [clinic, *(Staff(initials=initials) for initials in PEOPLE)]
    start_ledger(path, [Draft(body, early, "", new_id()) for body in bodies], ZONE, early)
    bays = [
        Bay(f"bay{n}", f"iso{n}", charcoal=n % 3 == 0, random=Random(f"{seed} {n}"))  # noqa: S311
        for n in range(1, machines + 1)
    ]
    with engine_for(path, writes=True).begin() as connection:
        chain = Chain(connection, random)
        count = chain.append(list(founding(bays, early)))
        for events in weeks_of(bays, weeks, random):
            count = chain.append(events)
        rebuild(connection)
    return count


def main() -> None:
    """Write the ledger that the command line asks for, and say how long it took."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--machines", type=int, default=40)
    parser.add_argument("--weeks", type=int, default=520)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    began = time.perf_counter()
    count = make(told.out, told.machines, told.weeks, told.seed)
    took = time.perf_counter() - began
    print(f"{count:,} entries on {told.machines} machines in {told.weeks} weeks: {took:.0f} s")


if __name__ == "__main__":
    main()
