"""What no sum is made of: each refusal names the value, its unit and what would do."""

from collections.abc import Callable
from decimal import Decimal
from functools import partial

import pytest

from logbook.arithmetic import absorbent, agent, bag, calendar, circuit, flows, oxygen
from logbook.arithmetic.agent import Stretch
from logbook.errors import InputError

NOTHING = Decimal(0)
FLOW = Decimal(1000)


def used(seconds: int = 60, flow: Decimal = FLOW, dial: Decimal = Decimal(2)) -> Decimal:
    return agent.liquid_used_ml("isoflurane", [Stretch(seconds, flow, dial)])


HIGH_PRESSURE = partial(oxygen.contents_by_full_volume_l, Decimal(100), reserve_psi=NOTHING)
REFUSED: dict[str, Callable[[], object]] = {
    "weight 9 g makes no sense here; it must lie from 10 to 200000 g": (
        lambda: circuit.choose_circuit(Decimal(9))
    ),
    "weight 200001 g makes no sense here; it must lie from 10 to 200000 g": (
        lambda: bag.choose_bag(Decimal(200_001))
    ),
    "weight NaN g makes no sense here; it must lie from 10 to 200000 g": (
        lambda: absorbent.co2_output_ml_min(Decimal("NaN"))
    ),
    "charge 49 g makes no sense here; it must lie from 50 to 10000 g": (
        lambda: absorbent.capacity_l(Decimal(49), "soda-lime")
    ),
    "stocked bags are none; name at least one size, like 500 mL": (
        lambda: bag.choose_bag(Decimal(4000), [])
    ),
    "stocked bag 0 mL is not a size; name sizes like 500 mL": (
        lambda: bag.choose_bag(Decimal(4000), [Decimal(500), NOTHING])
    ),
    "flowmeter maximum 0 mL/min makes no sense here; it must be more than 0 and at most "
    "20000 mL/min": lambda: flows.keep_up_flow(Decimal(4000), NOTHING),
    "time 0 s makes no sense here; it must be more than 0 and at most 86400 s": lambda: used(0),
    "flow 0 mL/min makes no sense here; it must be more than 0 and at most 20000 mL/min": (
        lambda: used(flow=NOTHING)
    ),
    "dial -1 % makes no sense here; it must lie from 0 to 20 %": lambda: used(dial=Decimal(-1)),
    "isoflurane has no segment; give at least one time, flow and dial setting": (
        lambda: agent.liquid_used_ml("isoflurane", [])
    ),
    "agent ether is not known; use isoflurane, sevoflurane, desflurane, halothane": (
        lambda: agent.liquid_used_ml("ether", [])
    ),
    "cylinder Q has no known factor; use D, E, G, H, K, M or give its water volume": (
        lambda: oxygen.contents_l("Q", FLOW, NOTHING)
    ),
    "factor 0 L/psi makes no sense here; it must be more than 0 and at most 10 L/psi": (
        lambda: oxygen.contents_by_factor_l(NOTHING, FLOW, NOTHING)
    ),
    "water volume 0 L makes no sense here; it must lie from 0.1 to 200 L": (
        lambda: oxygen.contents_by_water_l(NOTHING, FLOW, NOTHING)
    ),
    "full volume 0 L makes no sense here; it must be more than 0 and at most 20000 L": (
        lambda: HIGH_PRESSURE(NOTHING, FLOW)
    ),
    "full pressure 0 psi makes no sense here; it must be more than 0 and at most 5000 psi": (
        lambda: HIGH_PRESSURE(FLOW, NOTHING)
    ),
    "gauge 5001 psi makes no sense here; it must lie from 0 to 5000 psi": (
        lambda: oxygen.contents_l("E", Decimal(5001), NOTHING)
    ),
    "reserve -1 psi makes no sense here; it must lie from 0 to 5000 psi": (
        lambda: oxygen.contents_l("E", FLOW, Decimal(-1))
    ),
    "oxygen -1 L makes no sense here; it must lie from 0 to 20000 L": (
        lambda: oxygen.minutes_left(Decimal(-1), FLOW)
    ),
}


@pytest.mark.parametrize("sentence", REFUSED)
def test_what_cannot_be_is_refused_in_one_sentence(sentence: str) -> None:
    with pytest.raises(InputError) as refused:
        REFUSED[sentence]()
    assert str(refused.value) == sentence


@pytest.mark.parametrize(
    ("words", "interval"),
    [
        ("12 months", "P12M"),
        (" 1 Year ", "P1Y"),
        ("2weeks", "P2W"),
        ("90 days", "P90D"),
        ("0 days", "0 days"),
        ("a month", "a month"),
        ("P6M", "P6M"),
    ],
)
def test_a_rhythm_in_words_is_an_interval(words: str, interval: str) -> None:
    assert calendar.rhythm_of(words) == interval
