"""What a machine is known to lack, by its profile."""

from decimal import Decimal
from typing import Any, get_args

import pytest

from logbook.checklists.model import Fits
from logbook.checklists.profile import Profile, lacks

NOT_THERE: dict[Fits, dict[str, Any]] = {
    "charcoal": {"scavenging": "active"},
    "coaxial": {"coaxial": False},
    "cylinder": {"cylinders": ()},
    "flush": {"oxygen_flush": False},
    "hours-label": {"hours_label": False},
    "oxygen-alarm": {"oxygen_alarm": False},
    "oxygen-monitor": {"oxygen_monitor": False},
    "pipeline": {"pipeline": False},
    "power": {"powered": False},
    "rebreathing": {"circuits": ("non-rebreathing",)},
    "relief-valve": {"relief_valve": False},
    "scavenging": {"scavenging": "none"},
    "second-gas": {"second_gas": False},
    "suction": {"suction": False},
    "suction-bulb": {"suction_bulb": False},
    "two-vaporizers": {"vaporizer_places": 1},
    "ventilator": {"ventilator": False},
}
THERE: dict[Fits, dict[str, Any]] = {
    "charcoal": {"scavenging": "charcoal"},
    "cylinder": {"cylinders": ("E",)},
    "rebreathing": {"circuits": ("non-rebreathing", "pediatric rebreathing")},
    "relief-valve": {"relief_valve": True, "relief_valve_cmh2o": Decimal(60)},
    "scavenging": {"scavenging": "passive"},
    "two-vaporizers": {"vaporizer_places": 2},
    "ventilator": {"ventilator": True},
}


def test_of_a_machine_that_nobody_described_nothing_is_lacking() -> None:
    assert lacks(Profile()) == frozenset()
    assert NOT_THERE.keys() == set(get_args(Fits))


@pytest.mark.parametrize("part", NOT_THERE)
def test_a_part_that_is_told_as_absent_is_lacking(part: Fits) -> None:
    also = {"charcoal"} if part == "scavenging" else set()
    assert lacks(Profile(**NOT_THERE[part])) == {part} | also


@pytest.mark.parametrize("part", THERE)
def test_a_part_that_is_told_as_there_is_not_lacking(part: Fits) -> None:
    assert part not in lacks(Profile(**THERE[part]))
