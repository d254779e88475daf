"""What a machine is and has, as it was told once; it shapes what is asked of the machine each day.

A part that nobody told of is asked for, because a part that is there must never be left out.
"""

import re
from dataclasses import dataclass, replace
from decimal import Decimal

from logbook.checklists.model import Checklist, Fits, Item
from logbook.vocabulary import AbsorbentKind, CircuitWord, LeakTestFirst, Scavenging


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """Everything that was told of a machine; None where it was never told.

    ``cylinders`` holds the size of each oxygen cylinder, by its letter in the United States or by
    its water volume (``4.7L``); none of them is another thing than not told. ``vaporizer_places``
    is how many vaporizers can stand on it, and ``compliance_ml_cmh2o`` how much gas raises the
    pressure of its breathing system by 1 cmH2O, with the bag or without as in the leak test.
    """

    serial: str | None = None
    location: str | None = None
    pipeline: bool | None = None
    cylinders: tuple[str, ...] | None = None
    oxygen_flush: bool | None = None
    second_gas: bool | None = None
    oxygen_alarm: bool | None = None
    oxygen_monitor: bool | None = None
    flowmeter_min_ml_min: Decimal | None = None
    flowmeter_max_ml_min: Decimal | None = None
    powered: bool | None = None
    ventilator: bool | None = None
    suction: bool | None = None
    vaporizer_places: int | None = None
    interlock: bool | None = None
    suction_bulb: bool | None = None
    circuits: tuple[CircuitWord, ...] | None = None
    coaxial: bool | None = None
    absorbent_kind: AbsorbentKind | None = None
    absorbent_g: Decimal | None = None
    hours_label: bool | None = None
    relief_valve: bool | None = None
    relief_valve_cmh2o: Decimal | None = None
    leak_test_first: LeakTestFirst | None = None
    compliance_ml_cmh2o: Decimal | None = None
    scavenging: Scavenging | None = None


def lacks(profile: Profile) -> frozenset[Fits]:
    """The parts that a machine is known to lack, so that nobody is asked about them."""
    return frozenset(part for part, there in _told(profile).items() if there is False)


def owes(profile: Profile, checklist: Checklist) -> bool:
    """Whether a machine owes a list: it has one of the parts that the list is for, or nobody told
    that it lacks the first of them, after which the list is mostly named."""
    told = _told(profile)
    there = [told[part] for part in checklist.fits]
    return not there or there[0] is not False or True in there


def _told(profile: Profile) -> dict[Fits, bool | None]:
    """Each part: whether it is there, or that nobody told."""
    circuits = profile.circuits
    rebreathing = None if circuits is None else any(one != "non-rebreathing" for one in circuits)
    places = profile.vaporizer_places
    scavenging = profile.scavenging
    return {
        "charcoal": None if scavenging is None else scavenging == "charcoal",
        "coaxial": profile.coaxial,
        "cylinder": None if profile.cylinders is None else bool(profile.cylinders),
        "flush": profile.oxygen_flush,
        "hours-label": profile.hours_label,
        "oxygen-alarm": profile.oxygen_alarm,
        "oxygen-monitor": profile.oxygen_monitor,
        "pipeline": profile.pipeline,
        "power": profile.powered,
        "rebreathing": rebreathing,
        "relief-valve": profile.relief_valve,
        "scavenging": None if scavenging is None else scavenging != "none",
        "second-gas": profile.second_gas,
        "suction": profile.suction,
        "suction-bulb": profile.suction_bulb,
        "two-vaporizers": None if places is None else places > 1,
        "ventilator": profile.ventilator,
    }


def each_cylinder(checklist: Checklist, count: int) -> Checklist:
    """A list as it is walked on a machine with so many oxygen cylinders: the item that reads the
    first one is followed by one for each other.

    A list that asks for several gauges itself, or knows an item by such a key, stays as it is.
    """
    read = [item for item in checklist.items if item.reads == "cylinder"]
    if len(read) != 1 or count < 2:
        return checklist
    first = replace(read[0], number=1)
    others = [_of_cylinder(first, number) for number in range(2, count + 1)]
    if {item.key for item in checklist.items} & {item.key for item in others}:
        return checklist
    at = checklist.items.index(read[0])
    items = (*checklist.items[:at], first, *others, *checklist.items[at + 1 :])
    return replace(checklist, items=items)


def _of_cylinder(item: Item, number: int) -> Item:
    """The item for another cylinder; the first of a machine has no number in its words."""
    numbered, found = re.subn(r"(?i)\bcylinder\b", rf"\g<0> {number}", item.title, count=1)
    title = numbered if found else f"{item.title} {number}"
    return replace(item, key=f"{item.key}-{number}", title=title, number=number)
